import modbusSerial from 'modbus-serial';
import { describe, expect, test } from 'vitest';
import type { ByteStream } from '../../ingest/sources/modbus/_byte-stream.ts';
import { mbapPort, rtuPort } from '../../ingest/sources/modbus/_frame-port.ts';
import { linesWith, sourceFiles } from './_source-files.ts';

const LINK = 'ingest/sources/modbus/modbus-link.ts';
const source = sourceFiles(['ingest', 'server']);
/** Every function of the library's client that sends anything but a read. */
const WRITES =
  /\b(writeFC\d+|writeCustomFC|writeCoils?|writeRegisters?|writeRegisterEnron|maskWriteRegister|readWriteRegisters|customFunction|readFileRecords|reportServerID|readDeviceIdentification)\b/;

describe('nothing writes to a device', () => {
  test('the client of the Modbus library is imported by the link alone; its server only by the demo', () => {
    const importers = source
      .filter(({ text }) => /['"]modbus-serial(\/[^'"]*)?['"]/.test(text))
      .map(({ path }) => path);
    expect(importers.filter((path) => !path.startsWith('ingest/demo/'))).toEqual([LINK]);
  });

  test('no function of the library that writes is named', () => {
    expect(linesWith(source, WRITES)).toEqual([]);
    // A key made of parts would get round the line above.
    const link = source.filter(({ path }) => path === LINK);
    expect(linesWith(link, /\bclient\s*\[|Reflect\.get\(client/)).toEqual([]);
  });

  test.each([
    ['Modbus TCP', mbapPort],
    ['Modbus RTU', rtuPort],
  ])('were one called all the same, nothing would go out over %s', async (_, portOver) => {
    const sent: Uint8Array[] = [];
    const stream: ByteStream = {
      isOpen: true,
      write: (bytes) => void sent.push(bytes),
      onBytes: () => undefined,
      onClosed: () => undefined,
      close: async () => undefined,
    };
    const client = new modbusSerial.default(portOver(stream).port);
    client.open(() => undefined);
    client.setTimeout(50);
    await expect(client.writeRegister(1, 2)).rejects.toThrow('only 1 to 4 read');
    await expect(client.writeCoil(1, true)).rejects.toThrow('only 1 to 4 read');
    await expect(client.writeRegisters(1, [2, 3])).rejects.toThrow('only 1 to 4 read');
    await expect(client.maskWriteRegister(1, 2, 3)).rejects.toThrow('only 1 to 4 read');
    expect(sent).toEqual([]);
    await client.readHoldingRegisters(0, 1).catch(() => undefined);
    expect(sent).toHaveLength(1);
  });

  test('a broker that is listened to is published one thing: the request to be born again', () => {
    const listening = source.filter(({ path }) =>
      /^ingest\/(sources\/mqtt\/(?!mqtt-publisher)|wire\/(mqtt|sparkplug)\/)/.test(path),
    );
    const lines = linesWith(listening, /\.publish(Async)?\(|cmd: 'publish'/);
    expect(lines).toHaveLength(1);
    expect(String(lines[0])).toContain('_broker-line.ts');
    const line = listening.find(({ path }) => path.endsWith('_broker-line.ts'));
    expect(line?.text).toMatch(
      /const \{ topic, payload \} = rebirthRequest\(node, nowMs\(\)\);\s+client\.publish\(topic, /,
    );
  });
});
