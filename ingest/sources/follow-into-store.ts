/** Followed folders over a store: files that grow go through the live door, whole ones straight into their days. */
import type { IntakeStore } from '../intake/intake.ts';
import type { LiveDoor } from '../intake/live-door.ts';
import type { FollowedFolder, FollowHouse } from './follow-folder.ts';
import { importFiles } from './import-files.ts';

/** Gathered readings beyond it are stored. */
const PENDING_MAX_BYTES = 24 * 1024 * 1024;

/** @param folder its progress is kept under its path */
export function followIntoStore(store: IntakeStore, door: LiveDoor, { path }: FollowedFolder): FollowHouse {
  const rows = store.importProgress(`follow ${path}`);
  return {
    door,
    places: {
      file: (file) => rows.file(file),
      put: (file, { identity, line, done }) => store.transaction(() => rows.put(file, identity, line, done)),
      refused(file, lines) {
        if (lines.length === 0) return;
        store.transaction(() => {
          for (const { line, what, remedy } of lines) rows.addRefusal(file, line, what, remedy);
        });
      },
    },
    async takeWhole(file, folder, listener) {
      await importFiles(
        store,
        { files: [file], columns: folder.columns, pendingMaxBytes: PENDING_MAX_BYTES },
        { refused: listener.refused, note: () => undefined, progress: () => undefined },
      );
    },
  };
}
