/** The words of the demo's page, by language: apart, because only that page needs them. */
const ENGLISH_DEMO = {
  head: (sites: string, isOne: boolean) =>
    isOne ? `${sites} invented site lives here.` : `${sites} invented sites live here.`,
  notRunning: 'No demo runs on this board.',
  notRunningWhat: 'kilter start without a configuration shows one: invented sites that are read as real ones are.',
  waits: 'The past of the fleet is being made; its sites live as soon as theirs is stored.',
  what: 'Put a fault into a site and watch the board find it: some show at once, some need the load of hours. What is started here stays in the readings.',
  startHead: 'Start a fault',
  site: 'Site',
  faultHead: 'Fault',
  minutes: 'For how many minutes',
  start: 'Start it',
  started: 'What was started',
  none: 'Nothing was started yet.',
  subject: 'In',
  from: 'From',
  to: 'To',
  lasts: 'lasts',
  end: (name: string) => `End all at ${name}`,
  sitesHead: 'How each site is heard',
  wayHead: 'Heard by',
  faults: {
    grid_loss: 'Grid loss: the site is on its own',
    loose_terminal: 'Loose terminal: 30 mΩ at the output of a unit',
    gauge_drift: 'Gauge that drifts: a pack is out by 40 % a day',
    link_broken: 'Broken link: a unit no longer sees the battery',
    wrong_setting: 'Wrong setting: a unit puts out 231 V beside 230 V',
    router_down: 'Router down: the site falls silent, and nothing is kept for later',
  },
  shows: {
    grid_loss: 'a backup event, within a minute',
    loose_terminal: 'a share that drifts, after loaded hours',
    gauge_drift: 'a charge that parts from the others, within hours',
    link_broken: 'a battery that is not seen',
    wrong_setting: 'settings that differ, after an hour',
    router_down: 'a silent site, after ten minutes',
  },
  ways: {
    sunspec: 'Modbus TCP, SunSpec',
    profile: 'Modbus TCP, register profiles',
    courier: 'Modbus TCP through a courier, which has no link while the grid is gone',
    native: 'MQTT, topics of Kilter',
    json: 'MQTT, JSON of its own',
    sparkplug: 'MQTT, Sparkplug B',
    folder: 'log files in a folder',
  },
};

export type DemoWords = typeof ENGLISH_DEMO;

const BY_LOCALE: Readonly<Record<string, DemoWords>> = { 'en-GB': ENGLISH_DEMO };

export const demoWords = ({ locale }: { readonly locale: string }): DemoWords => BY_LOCALE[locale] ?? ENGLISH_DEMO;
