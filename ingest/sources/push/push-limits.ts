/** What one pusher may ask of the server, each number with its reason. */
export interface PushLimits {
  /** Bytes of a body, as sent and unpacked: it is held whole until it is stored. */
  readonly bodyMaxBytes: number;
  /** Requests that may come at once after a rest: a gateway that was cut off sends what it kept. */
  readonly burst: number;
  /** Requests a second in the long run: a site of seven sources that sends each reading alone needs one. */
  readonly perSecond: number;
  /** Bodies held at the same time, over all pushers. */
  readonly atOnce: number;
  /** Refused lines that are named in an answer; their number stands beside. */
  readonly namedRefusals: number;
}

export const PUSH_LIMITS: PushLimits = {
  bodyMaxBytes: 16 * 1024 * 1024,
  burst: 200,
  perSecond: 20,
  atOnce: 16,
  namedRefusals: 100,
};
