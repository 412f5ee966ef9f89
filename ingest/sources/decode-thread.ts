/** The second core: decodes files for `createDecoding`. Messages are answered in the order in which they come. */
import { parentPort } from 'node:worker_threads';
import type { DecodeRequest } from './decoding.ts';
import { FileDecoder } from './file-decoder.ts';

let decoder: FileDecoder | null = null;

parentPort?.on('message', (request: DecodeRequest) => {
  if (request.do === 'open') {
    decoder = new FileDecoder(request.form);
    return;
  }
  const piece = request.do === 'feed' ? decoder!.feed(request.bytes) : decoder!.end();
  const moved = piece.batches.map(({ rows }) => rows.buffer as ArrayBuffer);
  parentPort!.postMessage(piece, moved);
});
