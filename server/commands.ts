/** All commands, each loaded when it is asked for: `kilter findings` has no need of a broker's library. */
import type { Command } from '../ingest/commands/command.ts';
import type { demoCommand } from '../ingest/commands/demo.ts';
import type { StartWith } from './start.ts';

export interface CommandsHouse extends StartWith {
  /** The demo is a peer: whoever starts the program knows it. */
  writeDemo(): Promise<Parameters<typeof demoCommand>[0]>;
}

interface KnownCommand extends Pick<Command, 'name' | 'summary'> {
  load(house: CommandsHouse): Promise<Command>;
}

type Started = 'start' | 'serve' | 'ingest';
const started =
  (part: Started) =>
  async (house: StartWith): Promise<Command> => {
    const { startCommands } = await import('./start.ts');
    return startCommands(house).find(({ name }) => name === part)!;
  };

/** In the order of the help. What each takes stands with the command itself; its summary is said here too, unloaded. */
export const KNOWN_COMMANDS: readonly KnownCommand[] = [
  {
    name: 'start',
    summary: 'the board and its worker; without a configuration, the demo fleet',
    load: started('start'),
  },
  { name: 'serve', summary: 'the board alone', load: started('serve') },
  { name: 'ingest', summary: 'the worker alone', load: started('ingest') },
  {
    name: 'courier',
    summary: 'at a site: reads sources, keeps what is read, forwards it',
    load: async (house) => (await import('./courier.ts')).courierCommand(house),
  },
  {
    name: 'import',
    summary: 'logs and site records into a data folder',
    load: async () => (await import('../ingest/commands/import.ts')).importCommand,
  },
  {
    name: 'findings',
    summary: 'what changed at which site, since when and why',
    load: async () => (await import('../ingest/commands/findings.ts')).findingsCommand,
  },
  {
    name: 'events',
    summary: 'every grid loss with a site on its own, and whether it held',
    load: async () => (await import('../ingest/commands/events.ts')).eventsCommand,
  },
  {
    name: 'readings',
    summary: 'what is stored of one unit, pack, bank or meter',
    load: async () => (await import('../ingest/commands/readings.ts')).readingsCommand,
  },
  {
    name: 'sql',
    summary: 'one read-only SQL statement over readings, findings and events',
    load: async () => (await import('../ingest/commands/sql.ts')).sqlCommand,
  },
  {
    name: 'check-sites',
    summary: 'mistakes and contradictions in site records',
    load: async () => (await import('../ingest/commands/check-sites.ts')).checkSitesCommand,
  },
  {
    name: 'probe',
    summary: 'reads one Modbus device and shows what came and how it is understood',
    async load() {
      const { probeCommand } = await import('../ingest/commands/probe.ts');
      const { createModbusLink } = await import('../ingest/sources/modbus/modbus-link.ts');
      return probeCommand((target, { timeoutMs }) => createModbusLink(target, { timeoutMs }, { nowMs: Date.now }));
    },
  },
  {
    name: 'listen',
    summary: 'hears a broker and shows what the topic maps would store',
    async load({ env }) {
      const { listenCommand } = await import('../ingest/commands/listen.ts');
      const { listenToBroker } = await import('../ingest/sources/mqtt/listen-to-broker.ts');
      const { readBrokers } = await import('./process/read-brokers.ts');
      return listenCommand({ readBrokers: (file) => readBrokers(file, env), listen: listenToBroker });
    },
  },
  {
    name: 'demo',
    summary: 'writes the logs of a simulated fleet',
    async load(house) {
      const { demoCommand } = await import('../ingest/commands/demo.ts');
      return demoCommand(await house.writeDemo());
    },
  },
];

/** @param words of the command line: a command that is named among them is loaded, of the others only the summary */
export function commandsFor(words: readonly string[], house: CommandsHouse): Promise<readonly Command[]> {
  return Promise.all(
    KNOWN_COMMANDS.map(async ({ name, summary, load }): Promise<Command> => {
      if (words.includes(name)) return load(house);
      return { name, summary, usage: summary, run: async (args, io) => (await load(house)).run(args, io) };
    }),
  );
}
