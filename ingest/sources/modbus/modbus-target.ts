/** Where Modbus devices are reached. Plain JSON: it stands in a configuration that crosses a process. */

export interface NetTarget {
  /** `tcp`: MBAP framing; `rtu_over_tcp`: RTU frames with their CRC through a serial gateway. */
  readonly kind: 'tcp' | 'rtu_over_tcp';
  readonly host: string;
  readonly port: number;
}

export interface SerialTarget {
  readonly kind: 'serial';
  readonly path: string;
  readonly baud: number;
  readonly parity: 'none' | 'even' | 'odd';
  readonly dataBits: 7 | 8;
  readonly stopBits: 1 | 2;
}

export type ModbusTarget = NetTarget | SerialTarget;

/** The target as a person wrote it: `127.0.0.1:502` or `/dev/ttyUSB0`. */
export function sayTarget(target: ModbusTarget): string {
  if (target.kind === 'serial') return target.path;
  return target.host.includes(':') ? `[${target.host}]:${target.port}` : `${target.host}:${target.port}`;
}

/** Milliseconds that so many bytes are on a serial line: a start bit, data, parity and stop bits each. */
export function lineTimeMs({ baud, parity, dataBits, stopBits }: SerialTarget, bytes: number): number {
  const bits = 1 + dataBits + (parity === 'none' ? 0 : 1) + stopBits;
  return (bytes * bits * 1000) / baud;
}
