/** A process to be killed: takes what a broker has for it into a store. Arguments: its configuration and the data folder. */
import { createLiveDoor } from '../../../../ingest/intake/live-door.ts';
import { createMqttSource } from '../../../../ingest/sources/mqtt/mqtt-source.ts';
import { openStore } from '../../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../../ingest/store/reading-store.ts';

const [configText = '', folder = ''] = process.argv.slice(2);
const config = JSON.parse(configText);
const door = createLiveDoor(createReadingStore(openStore(folder)));
let counted = 0;
const source = createMqttSource(
  config,
  {
    async store(batch) {
      const counts = await door.store(batch);
      counted += batch.readings;
      // The parent kills while these come.
      process.stdout.write(`stored ${counted}\n`);
      return counts;
    },
  },
  { nowMs: () => Date.now(), say: (line) => process.stderr.write(`${line}\n`) },
);
source.start();
process.stdout.write('started\n');
