/** The devices of one simulated site behind one Modbus TCP gateway: they are read, and take nothing. */
import modbusSerial from 'modbus-serial';

/** What a device holds from an address on. */
export interface DeviceWords {
  readonly holding: Uint16Array;
  readonly input: Uint16Array;
  /** Address of the first word. */
  readonly base: number;
}

export interface ModbusSite {
  readonly port: number;
  close(): Promise<void>;
}

const ILLEGAL_ADDRESS = 2;
const ANY_ADDRESS = 255;
const CLOSE_WITHIN_MS = 500;

type Answer<Value> = (error: Error | null, value: Value) => void;

/**
 * @param port    one that nobody has: the library takes no other
 * @param device  what stands in the device of an address now; null: it does not answer
 */
export async function openModbusSite(
  port: number,
  device: (address: number) => DeviceWords | null,
): Promise<ModbusSite> {
  const read = (
    table: 'holding' | 'input',
    from: number,
    count: number,
    unit: number,
    answer: Answer<number[]>,
  ): void => {
    const words = device(unit);
    if (words === null) return;
    const at = from - words.base;
    if (at >= 0 && at + count <= words[table].length) answer(null, [...words[table].subarray(at, at + count)]);
    else answer(Object.assign(new Error('no such register'), { modbusErrorCode: ILLEGAL_ADDRESS }), []);
  };
  const readOne = (table: 'holding' | 'input', address: number, unit: number, answer: Answer<number>): void =>
    read(table, address, 1, unit, (error, [word = 0]) => answer(error, word));
  const server = new modbusSerial.ServerTCP(
    {
      getHoldingRegister: (address: number, unit: number, answer: Answer<number>) =>
        readOne('holding', address, unit, answer),
      getInputRegister: (address: number, unit: number, answer: Answer<number>) =>
        readOne('input', address, unit, answer),
      getMultipleHoldingRegisters: (address: number, length: number, unit: number, answer: Answer<number[]>) =>
        read('holding', address, length, unit, answer),
      getMultipleInputRegisters: (address: number, length: number, unit: number, answer: Answer<number[]>) =>
        read('input', address, length, unit, answer),
    },
    { host: '127.0.0.1', port, unitID: ANY_ADDRESS },
  );
  // A client that goes away in the middle is no matter.
  server.on('socketError', () => undefined);
  await new Promise<void>((resolve, reject) => {
    server.on('initialized', () => resolve());
    server.on('serverError', (error) => reject(error ?? new Error(`no listening on port ${port}`)));
  });
  return { port, close: () => closed(server) };
}

function closed(server: InstanceType<typeof modbusSerial.ServerTCP>): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, CLOSE_WITHIN_MS);
    server.close(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}
