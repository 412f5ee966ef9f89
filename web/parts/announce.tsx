/** Says aloud, to who reads by ear, that an answer changed: politely, and once a minute at most. */
import { useEffect, useRef, useState } from 'preact/hooks';

const REST_MS = 60_000;

export function Announce({ text }: { text: string }) {
  const [said, say] = useState('');
  const last = useRef({ text, at: Date.now() });
  useEffect(() => {
    if (text === last.current.text) return;
    const wait = Math.max(0, last.current.at + REST_MS - Date.now());
    const timer = setTimeout(() => {
      last.current = { text, at: Date.now() };
      say(text);
    }, wait);
    return () => clearTimeout(timer);
  }, [text]);
  return (
    <p class="unseen" role="status">
      {said}
    </p>
  );
}
