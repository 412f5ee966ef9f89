/** Bytes to and from a peer: a socket or a serial port, opened with a deadline, closed for certain. */
import { connect } from 'node:net';
import type { ModbusTarget, NetTarget, SerialTarget } from './modbus-target.ts';

export interface ByteStream {
  readonly isOpen: boolean;
  write(bytes: Uint8Array): void;
  /** One listener; it is called for every piece that comes. */
  onBytes(listener: (bytes: Uint8Array) => void): void;
  /** One listener; called once, with the reason in words. At once where the stream is closed already. */
  onClosed(listener: (why: string) => void): void;
  /** Resolves soon, whatever the peer does. */
  close(): Promise<void>;
}

/** How long a serial port may take to close before it is left to itself. */
const SERIAL_CLOSE_MS = 500;

export function openStream(target: ModbusTarget, deadlineMs: number): Promise<ByteStream> {
  return target.kind === 'serial' ? openSerial(target, deadlineMs) : openSocket(target, deadlineMs);
}

/** Keeps why a stream closed until somebody asks. */
function closing(): { closed(why: string): void; onClosed: ByteStream['onClosed']; readonly isClosed: boolean } {
  let reason: string | null = null;
  let tell: ((why: string) => void) | null = null;
  return {
    get isClosed() {
      return reason !== null;
    },
    closed(why) {
      if (reason !== null) return;
      reason = why;
      tell?.(why);
    },
    onClosed(listener) {
      tell = listener;
      if (reason !== null) listener(reason);
    },
  };
}

function openSocket({ host, port }: NetTarget, deadlineMs: number): Promise<ByteStream> {
  return new Promise((resolve, reject) => {
    const socket = connect({ host, port, noDelay: true, keepAlive: true });
    const end = closing();
    const deadline = setTimeout(() => {
      socket.destroy();
      reject(new Error(`no connection within ${deadlineMs} ms`));
    }, deadlineMs);
    socket.on('error', (error: NodeJS.ErrnoException) => {
      clearTimeout(deadline);
      reject(new Error(sayNetError(error)));
      end.closed(sayNetError(error));
    });
    socket.on('close', () => {
      clearTimeout(deadline);
      end.closed('the peer closed the connection');
    });
    // A half-closed peer answers no more.
    socket.on('end', () => socket.destroy());
    socket.on('connect', () => {
      clearTimeout(deadline);
      resolve({
        get isOpen() {
          return !end.isClosed && !socket.destroyed;
        },
        write: (bytes) => void socket.write(bytes),
        onBytes: (listener) => void socket.on('data', listener),
        onClosed: end.onClosed,
        close: async () => void socket.destroy(),
      });
    });
  });
}

function sayNetError(error: NodeJS.ErrnoException): string {
  if (error.code === 'ECONNREFUSED') return 'the connection is refused: nothing listens there';
  if (error.code === 'ECONNRESET' || error.code === 'EPIPE') return 'the peer broke the connection off';
  if (error.code === 'ENOTFOUND' || error.code === 'EAI_AGAIN') return 'the host name is not known';
  if (error.code === 'EHOSTUNREACH' || error.code === 'ENETUNREACH') return 'there is no way to the host';
  return error.message;
}

async function openSerial(target: SerialTarget, deadlineMs: number): Promise<ByteStream> {
  // Not at the head of the file: the driver is optional, and a site without a serial line has no need of it.
  const { SerialPort } = await import('serialport');
  const { path, baud: baudRate, parity, dataBits, stopBits } = target;
  const port = new SerialPort({ path, baudRate, parity, dataBits, stopBits, autoOpen: false });
  const end = closing();
  port.on('error', (error) => end.closed(error.message));
  port.on('close', () => end.closed('the serial port went away'));
  await new Promise<void>((resolve, reject) => {
    const deadline = setTimeout(() => reject(new Error(`the port does not open within ${deadlineMs} ms`)), deadlineMs);
    port.open((error) => {
      clearTimeout(deadline);
      if (error === null) resolve();
      else reject(new Error(error.message.replace(/^Error:?\s*/, '')));
    });
  });
  // What the driver still holds was meant for whoever had the port before.
  await new Promise<void>((resolve) => port.flush(() => resolve()));
  return {
    get isOpen() {
      return !end.isClosed && port.isOpen;
    },
    write: (bytes) => void port.write(Buffer.from(bytes)),
    onBytes: (listener) => void port.on('data', listener),
    onClosed: end.onClosed,
    close: () => closeSerial(port),
  };
}

function closeSerial(port: { readonly isOpen: boolean; close(done: () => void): void }): Promise<void> {
  if (!port.isOpen) return Promise.resolve();
  return new Promise((resolve) => {
    const deadline = setTimeout(resolve, SERIAL_CLOSE_MS);
    port.close(() => {
      clearTimeout(deadline);
      resolve();
    });
  });
}
