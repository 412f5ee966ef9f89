/** Stranded (2) or flexible (5). */
export type ConductorClass = 2 | 5;
export type ConductorMaterial = 'copper' | 'aluminium';

/** A cable as the site record has it: one way, in metres and mm². */
export interface CableRun {
  readonly length_m: number;
  readonly area_mm2: number;
  readonly material: ConductorMaterial;
}

/** Ω·mm²/m at 20 °C: 1/58 for annealed copper (IEC 60028), 61 % IACS for aluminium (IEC 60889); from memory, unverified. */
export const RESISTIVITY_20: { readonly [Material in ConductorMaterial]: number } = {
  copper: 1 / 58,
  aluminium: 0.028264,
};

/** Temperature at which resistance would reach 0 °C on a straight line, below zero: R ∝ T0 + t. IEC 60287; from memory, unverified. */
const ZERO_RESISTANCE_C: { readonly [Material in ConductorMaterial]: number } = { copper: 234.5, aluminium: 228 };

/** Per kelvin at 20 °C, annealed copper (IEC 60028); from memory, unverified. */
export const ALPHA_20_COPPER = 0.00393;

/** IEC 60228, plain annealed copper, maximum DC resistance at 20 °C, Ω/km. */
const OHM_PER_KM: { readonly [Class in ConductorClass]: ReadonlyMap<number, number> } = {
  2: new Map([
    [1.5, 12.1],
    [2.5, 7.41],
    [4, 4.61],
    [6, 3.08],
    [10, 1.83],
    [16, 1.15],
    [25, 0.727],
    [35, 0.524],
    [50, 0.387],
    [70, 0.268],
    [95, 0.193],
    [120, 0.153],
    [150, 0.124],
    [185, 0.0991],
    [240, 0.0754],
  ]),
  5: new Map([
    [1.5, 13.3],
    [2.5, 7.98],
    [4, 4.95],
    [6, 3.3],
    [10, 1.91],
    [16, 1.21],
    [25, 0.78],
    [35, 0.554],
    [50, 0.386],
    [70, 0.272],
    [95, 0.206],
    [120, 0.161],
    [150, 0.129],
    [185, 0.106],
    [240, 0.0801],
  ]),
};

/**
 * Resistance of one conductor a kilometre at 20 °C: from IEC 60228 where the area is in the table, else resistivity over area.
 *
 * @param areaMm2         cross-section, mm², above 0
 * @param material        aluminium is taken as copper times the ratio of the resistivities
 * @param conductorClass  2 stranded, 5 flexible
 * @returns Ω/km at 20 °C; the table's figures are upper limits, so a real cable is a little below
 * @throws RangeError  if the area is not above 0
 * @see IEC 60228, tables of classes 2 and 5, plain annealed copper; else derived: ρ·l/A
 */
export function conductorOhmPerKm(
  areaMm2: number,
  material: ConductorMaterial,
  conductorClass: ConductorClass,
): number {
  if (!(areaMm2 > 0 && Number.isFinite(areaMm2)))
    throw new RangeError(`Cannot take a cable resistance: area ${areaMm2} mm² is not above 0`);
  const copper = OHM_PER_KM[conductorClass].get(areaMm2) ?? (RESISTIVITY_20.copper * 1000) / areaMm2;
  return (copper * RESISTIVITY_20[material]) / RESISTIVITY_20.copper;
}

/**
 * Resistance at a temperature over resistance at 20 °C, in the form of a straight line through the zero-resistance temperature.
 *
 * @param material      copper 254.5 = 234.5 + 20, aluminium 248 = 228 + 20
 * @param temperatureC  conductor temperature, °C, above −200
 * @returns ratio, no unit
 * @throws RangeError  if the temperature is not above −200
 * @see IEC 60287 (from memory, unverified): R_t = R_20·(234.5 + t)/254.5 for copper
 */
export function temperatureRatio(material: ConductorMaterial, temperatureC: number): number {
  if (!(temperatureC > -200 && Number.isFinite(temperatureC))) {
    throw new RangeError(`Cannot take a cable resistance: temperature ${temperatureC} °C is not above −200`);
  }
  return (ZERO_RESISTANCE_C[material] + temperatureC) / (ZERO_RESISTANCE_C[material] + 20);
}

/**
 * The same in the form with a temperature coefficient, as the correction tables for IEC 60228 use it.
 *
 * @param temperatureC  conductor temperature, °C
 * @param alphaPerK     coefficient at 20 °C, 1/K; copper's where absent; the tables' rounded one is 0.004
 * @returns ratio, no unit; 0.4 % apart from temperatureRatio at 70 °C with 0.004
 * @throws RangeError  if an argument is not finite
 * @see IEC 60228, annex on temperature correction: R_t = R_20·(1 + α·(t − 20))
 */
export function linearTemperatureRatio(temperatureC: number, alphaPerK = ALPHA_20_COPPER): number {
  if (!Number.isFinite(temperatureC) || !Number.isFinite(alphaPerK)) {
    throw new RangeError(
      `Cannot take a cable resistance: temperature ${temperatureC} °C or coefficient ${alphaPerK} is not a finite number`,
    );
  }
  return 1 + alphaPerK * (temperatureC - 20);
}

/**
 * Resistance of a cable, out and back.
 *
 * @param cable           one-way length, m, at least 0; area, mm², above 0; material
 * @param temperatureC    conductor temperature, °C
 * @param conductorClass  2 stranded (fixed wiring; where absent), 5 flexible
 * @returns Ω, both conductors, DC; at 50 Hz skin effect adds less than 1 % up to 95 mm² (from memory, unverified)
 * @throws RangeError  if the length is not at least 0, the area not above 0 or the temperature not above −200
 * @see IEC 60228; conductorOhmPerKm and temperatureRatio
 */
export function pathResistanceOhm(cable: CableRun, temperatureC: number, conductorClass: ConductorClass = 2): number {
  if (!(cable.length_m >= 0 && Number.isFinite(cable.length_m))) {
    throw new RangeError(`Cannot take a cable resistance: length ${cable.length_m} m is not at least 0`);
  }
  const ohmPerKm = conductorOhmPerKm(cable.area_mm2, cable.material, conductorClass);
  return ((2 * cable.length_m) / 1000) * ohmPerKm * temperatureRatio(cable.material, temperatureC);
}
