/** Decoding on a thread of its own where the program is compiled; in process where it runs from source. */
import { Worker } from 'node:worker_threads';
import { type DecodedPiece, FileDecoder, type FileForm } from './file-decoder.ts';

export type DecodeRequest =
  | { readonly do: 'open'; readonly form: FileForm }
  | { readonly do: 'feed'; readonly bytes: Uint8Array }
  | { readonly do: 'end' };

/** Decodes one file after the other; answers come in the order of the questions. */
export interface Decoding {
  open(form: FileForm): void;
  /** The bytes are handed over: the caller must not use them again. */
  feed(bytes: Uint8Array): Promise<DecodedPiece>;
  end(): Promise<DecodedPiece>;
  close(): Promise<void>;
}

/** A worker thread can't be started from TypeScript source on Node 20, so the source runs without one. */
const IS_COMPILED = import.meta.url.endsWith('.js');

export function createDecoding(): Decoding {
  return IS_COMPILED ? threadDecoding() : ownDecoding();
}

function ownDecoding(): Decoding {
  let decoder: FileDecoder | null = null;
  return {
    open(form) {
      decoder = new FileDecoder(form);
    },
    feed: async (bytes) => decoder!.feed(bytes),
    end: async () => decoder!.end(),
    close: async () => undefined,
  };
}

function threadDecoding(): Decoding {
  const thread = new Worker(new URL('./decode-thread.js', import.meta.url));
  const waiting: { resolve(piece: DecodedPiece): void; reject(error: unknown): void }[] = [];
  thread.on('message', (piece: DecodedPiece) => waiting.shift()!.resolve(piece));
  let failed: { readonly error: unknown } | null = null;
  thread.on('error', (error) => {
    failed = { error };
    for (const { reject } of waiting.splice(0)) reject(error);
  });
  const ask = (request: DecodeRequest, moved: ArrayBuffer[] = []): Promise<DecodedPiece> => {
    const answer = new Promise<DecodedPiece>((resolve, reject) => {
      if (failed !== null) return reject(failed.error);
      waiting.push({ resolve, reject });
      thread.postMessage(request, moved);
    });
    // Answers are awaited in turn: one that fails while an earlier one is awaited must not end the process unheard.
    answer.catch(() => undefined);
    return answer;
  };
  return {
    open: (form) => thread.postMessage({ do: 'open', form } satisfies DecodeRequest),
    feed(bytes) {
      // A view of a larger buffer is copied: handing over the whole would pull it from under its other views.
      const own = bytes.byteLength === bytes.buffer.byteLength ? bytes : bytes.slice();
      return ask({ do: 'feed', bytes: own }, [own.buffer as ArrayBuffer]);
    },
    end: () => ask({ do: 'end' }),
    close: async () => {
      await thread.terminate();
    },
  };
}
