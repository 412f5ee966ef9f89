/** One message of a broker, and where what it says goes. */
import type { Fault, LineMeaning } from '../line-meaning.ts';

export interface MqttMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** The broker kept it and sends it to whoever subscribes: it is as old as its own time says. */
  readonly isRetained: boolean;
  /** The broker may send it again, or has held it back: when it arrives says nothing about when it was measured. */
  readonly canComeAgain: boolean;
  /** The broker says that it has sent it before (MQTT 3.1.1, 3.3.1.1: DUP). */
  readonly isAgain?: boolean;
  /** Epoch ms. */
  readonly arrivedAt: number;
}

/** How far the clock of a courier is from the server's, as the courier measured it. */
export interface CourierOffset {
  readonly site: string;
  readonly name: string;
  /** Epoch ms. */
  readonly t: number;
  readonly offsetMs: number;
  /** Of a courier that says so it is no measurement: no more than what it knows without a clock on the other side. */
  readonly isMeasured: boolean;
}

/** Where a reader of messages puts what it makes of them. */
export interface MessageSink {
  /** One reading, settings line or alarm. */
  take(meaning: LineMeaning): void;
  /** @param place inside of the payload, for example `element 3` */
  refuse(fault: Fault, place?: string): void;
  offset(offset: CourierOffset): void;
  /** A Sparkplug node whose birth was missed, and which the configuration lets us ask to be born again. */
  needsBirth?(node: SparkplugNodeName): void;
}

export interface SparkplugNodeName {
  readonly group: string;
  readonly node: string;
}

/** One thing behind a topic entry that can be heard or not: a Sparkplug node, or the entry itself. */
export interface EntryPart {
  readonly name: string;
  readonly isAnswering: boolean;
  /** Newest `t` that it brought, where it is known of this part; epoch ms. */
  readonly lastReadingAt: number | null;
  /** In words; null where nothing is wrong. */
  readonly trouble: string | null;
}

/** Reads the messages of one entry. What it can't read it refuses; nothing is thrown for bytes. */
export interface EntryReader {
  /** For people: the topic it listens to. */
  readonly name: string;
  /** What to subscribe to. */
  readonly filters: readonly string[];
  /** Takes the message if it is one of its own. @returns whether it was */
  read(message: MqttMessage, sink: MessageSink): boolean;
  /** Things that were left out without refusing a reading, and what is silent. */
  parts(): readonly EntryPart[];
  /** What must outlive this process for the next messages of the same session to be read; plain data. */
  kept?(): unknown;
  /** Rises with each change of what `kept` gives. */
  keptChange?(): number;
  /** Goes on from what `kept` gave; what is not of its form is passed over. */
  recall?(kept: unknown): void;
}
