/** `kilter courier`: the sources of a configuration at the site, forwarded from a queue on disk. */
import type { Command, Io } from '../ingest/commands/command.ts';
import { readOptions, refuseRest } from '../ingest/commands/read-options.ts';
import { runCourier } from '../ingest/run-courier.ts';
import type { RunConfig } from '../ingest/sources/make-source.ts';
import { NeedsOperator } from '../ingest/vocabulary/refusal.ts';
import { readConfig } from './process/read-config.ts';
import { isRunBy } from './process/source-kinds.ts';
import { type ConfigWatch, watchConfig } from './process/watch-config.ts';
import type { StartWith } from './start.ts';

const USAGE = `Usage: kilter courier --config kilter.yaml

Reads the sources of a site into a queue on disk and forwards them, newest first, whenever there is a link:
what was read while there was none arrives later. Runs on a small computer at the site.

The configuration has sources as for kilter start, and
  forward: { push: "https://board.example/api/readings", token_env: KILTER_TOKEN }
  queue: { path: ./queue, max_mb: 512 }
or forward: { mqtt: { url: "mqtts://broker.example:8883" } }.

Example:
  kilter courier --config kilter.yaml`;

async function run(args: readonly string[], io: Io, env: StartWith['env']): Promise<number> {
  const { options, rest } = readOptions('courier', { config: 'value' }, args);
  refuseRest('courier', rest);
  const { config: file } = options;
  if (file === undefined) {
    const what = 'it is not said what to read, and where to forward it';
    throw new NeedsOperator({ where: 'kilter courier', what, remedy: 'give --config kilter.yaml' });
  }
  const read = () => readConfig(file, env, 'courier');
  const config = read();
  const { courier } = config;
  if (courier === null) throw new RangeError('Cannot run a courier: the configuration was read for one and has none');
  let watch: ConfigWatch | null = null;
  const stopped = new Promise<void>((resolve) => io.onStop(resolve));
  const sources = config.sources.filter(isRunBy.worker);
  const onSources = (listener: (next: readonly RunConfig[]) => void): void => {
    watch = watchConfig(file, config, {
      read,
      say: io.err,
      changed(next) {
        if (JSON.stringify(next.courier) !== JSON.stringify(courier))
          io.err(`${file}: forward and queue hold from the next start on`);
        listener(next.sources.filter(isRunBy.worker));
      },
    });
  };
  io.err(`courier ${courier.name}: the queue is in ${courier.queue.path}; Ctrl-C stops it`);
  try {
    await runCourier(
      { courier, sources },
      {
        say: io.err,
        nowMs: () => io.now(),
        elapsedMs: () => performance.now(),
        random: Math.random,
        stopped,
        onSources,
      },
    );
  } finally {
    (watch as ConfigWatch | null)?.stop();
  }
  return 0;
}

export const courierCommand = ({ env }: StartWith): Command => ({
  name: 'courier',
  summary: 'at a site: reads sources, keeps what is read, forwards it',
  usage: USAGE,
  run: (args, io) => run(args, io, env),
});
