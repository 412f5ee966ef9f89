/**
 * Register profiles of the demo's own inverters and packs: invented devices, as a file would hold them.
 *
 * As text, so that the built program carries them, and so that whoever copies one has a file with its comments.
 */

/** A hybrid inverter that keeps measurements in input registers and settings in holding registers, low word first. */
export const MILLRACE_PROFILE = `profile: millrace-hybrid
word_order: low_first
registers:
  # Measured together: one request brings them as of one instant.
  - { quantity: grid_voltage_v, table: input, address: 0, type: uint16, factor: 0.1, absent: [65535], poll_group: power }
  - { quantity: grid_frequency_hz, table: input, address: 1, type: uint16, factor: 0.01, absent: [65535], poll_group: power }
  - { quantity: grid_power_w, table: input, address: 2, type: int32, poll_group: power }
  - { quantity: output_voltage_v, table: input, address: 4, type: uint16, factor: 0.1, absent: [65535], poll_group: power }
  - { quantity: output_frequency_hz, table: input, address: 5, type: uint16, factor: 0.01, absent: [65535], poll_group: power }
  - { quantity: output_power_w, table: input, address: 6, type: int32, poll_group: power }
  - { quantity: dc_voltage_v, table: input, address: 10, type: uint16, factor: 0.1, absent: [65535] }
  - { quantity: dc_current_a, table: input, address: 11, type: int16, factor: 0.1, absent: [-32768] }
  - { quantity: battery_soc_pct, table: input, address: 12, type: uint16, factor: 0.1, absent: [65535] }
  - { quantity: pv_power_w, table: input, address: 14, type: int32, absent: [-2147483648] }
  - { quantity: heatsink_temperature_c, table: input, address: 20, type: int16, factor: 0.1, absent: [-32768] }
  - { quantity: mode, table: input, address: 30, type: uint16, states: { 0: off, 1: standby, 2: starting, 3: grid, 4: backup, 5: generator, 9: fault } }
  - { quantity: fault_code, table: input, address: 31, type: uint16, bits: [0, 7] }
  - { quantity: ct_power_w, table: input, address: 32, type: int32, absent: [-2147483648] }
  - { quantity: grid_import_wh, table: input, address: 40, type: uint32, factor: 10 }
  - { quantity: output_energy_wh, table: input, address: 42, type: uint32, factor: 10 }
  - { quantity: pv_energy_wh, table: input, address: 44, type: uint32, factor: 10 }
settings:
  - { key: battery_type, table: holding, address: 100, type: uint16, states: { 0: lead, 1: lithium } }
  - { key: battery_shared, table: holding, address: 101, type: uint16, states: { 0: false, 1: true } }
  - { key: output_voltage_setpoint_v, table: holding, address: 102, type: uint16, factor: 0.1 }
  - { key: output_frequency_setpoint_hz, table: holding, address: 103, type: uint16, factor: 0.01 }
  - { key: low_soc_cutoff_pct, table: holding, address: 104, type: uint16 }
  - { key: firmware, table: holding, address: 110, type: string(8) }
  - { key: serial, table: holding, address: 118, type: string(8) }
`;

/** A lithium pack with everything in holding registers, whose current has its exponent beside it. */
export const LOCKGATE_PROFILE = `profile: lockgate-pack
word_order: high_first
registers:
  - { quantity: pack_voltage_v, table: holding, address: 0, type: uint16, factor: 0.01, absent: [65535] }
  # Positive while it charges, so that the factor turns it round.
  - { quantity: pack_current_a, table: holding, address: 1, type: int16, factor: -1, absent: [-32768], scale_register: { table: holding, address: 2, type: int16 } }
  - { quantity: soc_pct, table: holding, address: 3, type: uint16, factor: 0.1, absent: [65535] }
  - { quantity: soh_pct, table: holding, address: 4, type: uint16, factor: 0.1, absent: [65535] }
  - { quantity: cell_voltage_min_v, table: holding, address: 5, type: uint16, factor: 0.001, absent: [65535] }
  - { quantity: cell_voltage_max_v, table: holding, address: 6, type: uint16, factor: 0.001, absent: [65535] }
  - { quantity: cell_temperature_min_c, table: holding, address: 7, type: int16, factor: 0.1, absent: [-32768] }
  - { quantity: cell_temperature_max_c, table: holding, address: 8, type: int16, factor: 0.1, absent: [-32768] }
  - { quantity: remaining_ah, table: holding, address: 10, type: float32 }
  - { quantity: full_ah, table: holding, address: 12, type: float32 }
  - { quantity: cycles, table: holding, address: 14, type: uint32 }
  - { quantity: pack_state, table: holding, address: 20, type: uint16, states: { 0: off, 1: idle, 2: charging, 3: discharging, 7: fault } }
`;
