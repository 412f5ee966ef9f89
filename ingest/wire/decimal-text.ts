/** Reads numbers as people of a country write them. */
export type DecimalReader = (text: string) => number;

/**
 * @param decimal    the sign between ones and tenths
 * @param thousands  the sign between groups of three, null where there is none
 * @returns a function that gives the number, or NaN where the text is none in this writing: "1.2" is no
 *          number where the comma is the decimal sign, rather than twelve
 */
export function decimalReader(decimal: '.' | ',', thousands: string | null): DecimalReader {
  const point = decimal === '.' ? '\\.' : ',';
  const fraction = `(?:${point}\\d*)?`;
  const plain = new RegExp(`^[+-]?(?:\\d+${fraction}|${point}\\d+)(?:[eE][+-]?\\d+)?$`);
  const group = thousands === null ? null : thousands === '.' ? '\\.' : thousands;
  const grouped = group === null ? null : new RegExp(`^[+-]?\\d{1,3}(?:${group}\\d{3})+${fraction}$`);
  return (text) => {
    if (plain.test(text)) return Number(decimal === ',' ? text.replace(',', '.') : text);
    if (grouped === null || thousands === null || !grouped.test(text)) return Number.NaN;
    const joined = text.replaceAll(thousands, '');
    return Number(decimal === ',' ? joined.replace(',', '.') : joined);
  };
}
