/* A libmodbus server: it answers every unit id; holding register a holds 7000 + a. TCP with a port, RTU with a path. */
#include <errno.h>
#include <modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int main(int argc, char **argv) {
  if (argc < 3) return 2;
  int is_tcp = strcmp(argv[1], "tcp") == 0;
  modbus_t *context =
      is_tcp ? modbus_new_tcp("127.0.0.1", atoi(argv[2])) : modbus_new_rtu(argv[2], 19200, 'N', 8, 1);
  if (context == NULL) return 3;
  modbus_mapping_t *map = modbus_mapping_new(300, 300, 300, 300);
  for (int a = 0; a < 300; a++) {
    map->tab_registers[a] = 7000 + a;
    map->tab_input_registers[a] = 8000 + a;
    map->tab_bits[a] = a % 2;
    map->tab_input_bits[a] = a % 2;
  }
  int listening = -1;
  if (is_tcp) {
    listening = modbus_tcp_listen(context, 4);
    if (listening < 0) return 4;
  } else {
    modbus_set_slave(context, 5);
    if (modbus_connect(context) != 0) return 5;
  }
  puts("ready");
  fflush(stdout);
  for (;;) {
    if (is_tcp) modbus_tcp_accept(context, &listening);
    for (;;) {
      uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
      int length = modbus_receive(context, query);
      if (length > 0) modbus_reply(context, query, length, map);
      else if (length == -1 && (is_tcp || errno == EIO)) break;
    }
    if (!is_tcp) return 0;
    modbus_close(context);
  }
}
