"""A pymodbus server: every register of unit u holds 1000 * u + its address; coils alternate."""
import asyncio
import sys

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartAsyncSerialServer, StartAsyncTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer


def slave(unit):
    registers = [(unit * 1000 + address) & 0xFFFF for address in range(300)]
    bits = [address % 2 == 1 for address in range(300)]
    return ModbusSlaveContext(
        di=ModbusSequentialDataBlock(0, bits),
        co=ModbusSequentialDataBlock(0, bits),
        hr=ModbusSequentialDataBlock(0, registers),
        ir=ModbusSequentialDataBlock(0, registers),
        zero_mode=True,
    )


async def main(framing, place):
    context = ModbusServerContext(slaves={unit: slave(unit) for unit in (1, 2, 11)}, single=False)
    print("ready", flush=True)
    if framing == "serial":
        await StartAsyncSerialServer(
            context=context, framer=ModbusRtuFramer, port=place, baudrate=19200, ignore_missing_slaves=True
        )
        return
    framer = ModbusSocketFramer if framing == "tcp" else ModbusRtuFramer
    await StartAsyncTcpServer(
        context=context, framer=framer, address=("127.0.0.1", int(place)), ignore_missing_slaves=True
    )


asyncio.run(main(sys.argv[1], sys.argv[2]))
