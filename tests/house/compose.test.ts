/**
 * docker-compose.yml, Dockerfile and .dockerignore, as far as they can be checked without an engine: their shape by the
 * keys of the Compose Specification that are relied on, and that what they start is there.
 */
import { spawn, spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { z } from 'zod';
import { parseConfig } from '../../server/process/read-config.ts';
import { freePort, until } from '../crash/_started.ts';

const duration = z.string().regex(/^\d+(ms|s|m|h)$/);
const volume = z.string().regex(/^[^:]+:\/[^:]*(:ro)?$/);
/** Compose Specification, services: only what this file uses, and nothing else. */
const service = z.strictObject({
  image: z.string(),
  build: z.string().optional(),
  command: z.array(z.string()).min(1),
  configs: z.array(z.strictObject({ source: z.string(), target: z.string().startsWith('/') })).optional(),
  depends_on: z.record(z.string(), z.strictObject({ condition: z.literal('service_healthy') })).optional(),
  environment: z.record(z.string(), z.string()).optional(),
  healthcheck: z.strictObject({
    test: z.array(z.string()).min(2),
    interval: duration,
    timeout: duration,
    start_period: duration,
    retries: z.int(),
  }),
  init: z.literal(true),
  user: z.string().regex(/^[1-9]\d*:[1-9]\d*$/),
  read_only: z.literal(true),
  tmpfs: z.array(z.string()).optional(),
  cap_drop: z.tuple([z.literal('ALL')]),
  security_opt: z.tuple([z.literal('no-new-privileges:true')]),
  restart: z.enum(['unless-stopped', 'always']),
  stop_grace_period: duration,
  volumes: z.array(volume),
  ports: z.array(z.string().regex(/^127\.0\.0\.1:\d+:\d+$/)).optional(),
  logging: z.object({ driver: z.string(), options: z.record(z.string(), z.string()) }),
});
const compose = z.strictObject({
  name: z.string(),
  'x-kilter': z.unknown(),
  services: z.strictObject({ server: service, worker: service, broker: service }),
  configs: z.record(z.string(), z.strictObject({ content: z.string() })),
  volumes: z.record(z.string(), z.null()),
});
const text = readFileSync('docker-compose.yml', 'utf8');
const file = compose.parse(parse(text, { merge: true }));
const all = Object.entries(file.services);

describe('docker-compose.yml', () => {
  test('each volume and each config that a service names is declared, and what must outlive it is a volume', () => {
    for (const [name, { volumes, configs = [] }] of all) {
      for (const one of volumes) {
        const source = one.split(':')[0]!;
        expect(source.startsWith('./') || source in file.volumes, `${name}: ${one}`).toBe(true);
      }
      for (const { source } of configs) expect(file.configs, name).toHaveProperty(source);
    }
    expect(file.services.server.volumes).toContain('kilter-data:/data');
    expect(file.services.worker.volumes).toEqual(file.services.server.volumes);
    expect(file.services.broker.volumes).toContain('broker-data:/mosquitto/data');
  });

  test('no secret stands in it, and a missing one stops it with a word', () => {
    for (const value of Object.values(file.services.server.environment ?? {}))
      expect(value).toMatch(/^\$\{[A-Z_]+:\?.+\}$/);
  });

  test('what it starts are commands of kilter, and stop in less than their grace', () => {
    for (const { command } of [file.services.server, file.services.worker]) {
      const { status, stdout } = spawnSync(process.execPath, ['dist/server/kilter.js', command[0]!, '--help'], {
        encoding: 'utf8',
      });
      expect([status, stdout]).toEqual([0, expect.stringContaining(`Usage: kilter ${command[0]}`)]);
    }
    expect(
      Object.values(file.services).every(({ stop_grace_period }) => Number.parseInt(stop_grace_period, 10) >= 10),
    ).toBe(true);
  });

  test('the configuration that its head gives is one', () => {
    const lines = text.split('\n');
    const from = lines.findIndex((line) => line.includes('config/kilter.yaml with'));
    const shown = lines.slice(from + 1, from + 5).map((line) => line.replace(/^# {3}/, ''));
    const env = { KILTER_TOKEN: 'a', KILTER_MQTT_PASSWORD: 'b' };
    expect(parseConfig(shown.join('\n'), '/config/kilter.yaml', env)).toMatchObject({
      config: { data: '/data', sites: ['/config/sites.yaml'], sources: [{ kind: 'mqtt', url: 'mqtt://broker:1883' }] },
    });
  });

  test('the broker keeps everything until the worker has it', async () => {
    const conf = file.configs['broker-conf']!.content;
    expect(conf).toMatch(/^persistence true$/m);
    expect(conf).toMatch(/^max_queued_messages 0$/m);
    const program = ['/usr/sbin/mosquitto', '/usr/local/sbin/mosquitto'].find(existsSync);
    if (program === undefined) return;
    // The same configuration outside of a container, with its places moved.
    const folder = mkdtempSync(join(tmpdir(), 'kilter-broker-'));
    chmodSync(folder, 0o777);
    mkdirSync(join(folder, 'data'), { mode: 0o777 });
    chmodSync(join(folder, 'data'), 0o777);
    writeFileSync(join(folder, 'passwords'), '', { mode: 0o644 });
    const port = await freePort();
    const moved = conf
      .replace('listener 1883', `listener ${port} 127.0.0.1`)
      .replace('/broker-passwords', join(folder, 'passwords'))
      .replace('/mosquitto/data/', `${join(folder, 'data')}/`);
    writeFileSync(join(folder, 'broker.conf'), moved);
    const broker = spawn(program, ['-c', join(folder, 'broker.conf')], { stdio: ['ignore', 'ignore', 'pipe'] });
    let said = '';
    broker.stderr.on('data', (bytes: Buffer) => {
      said += bytes.toString();
    });
    try {
      await until('the broker runs', () => /running/.test(said) || broker.exitCode !== null, 10_000);
      expect(said).toContain('running');
      expect(said).not.toMatch(/error|unknown/i);
    } finally {
      broker.kill();
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

describe('Dockerfile', () => {
  const docker = readFileSync('Dockerfile', 'utf8');
  test('builds in one stage and runs in another, not as root, with what the build needs and no more', () => {
    expect(docker.match(/^FROM /gm)).toHaveLength(2);
    expect(docker.slice(docker.lastIndexOf('FROM '))).toMatch(/^USER node$/m);
    for (const [, from] of docker.matchAll(/^COPY (?!--)(.+) \S+$/gm)) {
      const allowed = readFileSync('.dockerignore', 'utf8').split('\n');
      for (const path of from!.split(' ')) {
        expect(existsSync(path), path).toBe(true);
        expect(allowed).toContain(`!${path}`);
      }
    }
    const { scripts } = JSON.parse(readFileSync('package.json', 'utf8')) as { scripts: Record<string, string> };
    for (const [, script] of docker.matchAll(/npm run ([a-z]+)/g)) expect(scripts).toHaveProperty(script!);
  });
});
