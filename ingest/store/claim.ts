/** One value that a line claimed for a cell. quantity: an id, or a key outside the vocabulary; value: JSON. */
export interface Claim {
  readonly t: number;
  readonly quantity: string;
  readonly value: string;
  readonly replaces: boolean;
  readonly revision: number;
}
