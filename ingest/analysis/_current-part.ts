/** What a pack that does not carry is measured by: two analyzers raise that kind. */
export const CURRENT_PART_MEASURE = "part of the bank's current over part of its capacity";

/** The smallest fall that matters, as a part of the pack's own baseline. Our own choice. */
export const CURRENT_PART_FALL = 0.35;
