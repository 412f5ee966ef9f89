/** The courier of one site of the demo: the command `kilter courier` in a process that ends with whoever started it. */
import { NeedsOperator, sayRefusal } from '../ingest/vocabulary/refusal.ts';
import { courierCommand } from './courier.ts';
import type { CourierMessage, CourierTask } from './process/demo-plan.ts';
import { createProcessIo } from './process-io.ts';

const tell = (line: string): void => {
  if (process.connected) process.send?.({ say: line } satisfies CourierMessage);
};

process.on('disconnect', () => process.kill(process.pid, 'SIGTERM'));

process.once('message', async ({ config }: CourierTask) => {
  const io = { ...createProcessIo(process.stdout, process.stderr, process, Date.now), out: tell, err: tell };
  try {
    process.exitCode = await courierCommand({ version: '', env: {} }).run(['--config', config], io);
  } catch (error) {
    tell(error instanceof NeedsOperator ? sayRefusal(error.refusal) : String(error));
    process.exitCode = 1;
  }
  if (process.connected) process.disconnect();
});
