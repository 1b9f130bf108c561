/** Something the server makes anew whenever a wish changes: the newest wish wins. */

import { useEffect, useRef, useState } from "preact/hooks";
import { Refusal } from "../api/http";

export interface Making<T> {
  /** The newest that came out; it stays while a newer one is made or was refused. */
  made: T | null;
  busy: boolean;
  refusal: Refusal | null;
}

/**
 * @param wish anything that JSON can hold; null makes nothing.
 * @param make asks the server.
 * @param patience ms to wait for the next key.
 */
export function useMaking<T>(
  wish: unknown,
  make: (signal: AbortSignal) => Promise<T>,
  patience = 350,
): Making<T> {
  const [state, setState] = useState<Making<T>>({ made: null, busy: wish !== null, refusal: null });
  const first = useRef(true);
  const key = JSON.stringify(wish);
  useEffect(() => {
    if (wish === null) return;
    const stop = new AbortController();
    setState((s) => ({ ...s, busy: true }));
    const wait = first.current ? 0 : patience;
    first.current = false;
    const timer = setTimeout(() => {
      make(stop.signal)
        .then((made) => {
          if (!stop.signal.aborted) setState({ made, busy: false, refusal: null });
        })
        .catch((error: unknown) => {
          if (stop.signal.aborted) return;
          const refusal =
            error instanceof Refusal ? error : new Refusal(0, "fault", "It could not be drawn.");
          setState((s) => ({ ...s, busy: false, refusal }));
        });
    }, wait);
    return () => {
      clearTimeout(timer);
      stop.abort();
    };
  }, [key]);
  return state;
}
