/** Every quantity id there is, once, for schemas. */
import { COLUMNS, type QuantityId } from '../../ingest/vocabulary/quantities.ts';

export const QUANTITY_IDS = [
  ...new Set(
    Object.values(COLUMNS)
      .flat()
      .map(({ id }) => id),
  ),
] as [QuantityId, ...QuantityId[]];
