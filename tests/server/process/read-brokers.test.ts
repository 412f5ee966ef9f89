import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { readBrokers } from '../../../server/process/read-brokers.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-brokers-'));
afterAll(() => rmSync(folder, { recursive: true }));
const fileOf = (text: string): string => {
  const file = join(folder, 'kilter.yaml');
  writeFileSync(file, text);
  return file;
};

describe('readBrokers', () => {
  test('gives the MQTT sources with their places, and asks for nothing that others need', () => {
    const file = fileOf(`forward: { push: "https://board.example/api/readings", token_env: NOWHERE }
sources:
  - { kind: modbus }
  - { kind: mqtt, url: "mqtt://h:1883", topics: [{ reads: kilter }] }
`);
    expect(readBrokers(file, {})).toMatchObject([{ place: 2, config: { name: 'mqtt h:1883', clientId: null } }]);
  });

  test('every mistake in them is said with its place', () => {
    const file = fileOf(`sources:
  - { kind: mqtt, url: "http://h", topics: [{ reads: kilter }] }
  - { kind: mqtt, url: "mqtt://h", username: u, password_env: NOWHERE, topics: [{ reads: kilter }] }
`);
    expect(() => readBrokers(file, {})).toThrow(
      /line 2, column 19: url is "http:[\s\S]*line 3.*NOWHERE is not set[\s\S]*2 mistakes/,
    );
    expect(() => readBrokers(fileOf('sources: ['), {})).toThrow('the YAML cannot be read');
  });

  test('a file without sources has none', () => {
    expect(readBrokers(fileOf('data: ./data'), {})).toEqual([]);
  });
});
