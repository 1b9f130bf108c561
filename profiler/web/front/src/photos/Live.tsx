/** The live picture with advice before the shot, where the browser lets a page have the camera. */

import { useEffect, useRef, useState } from "preact/hooks";
import type { Check } from "../api/types";
import { Refusal } from "../api/http";
import { Icon } from "../kit/icons";
import { speak } from "../state/notices";
import { glance, reduced } from "./glance";
import { Rings } from "./MarkedPhoto";

/** ms from an answer to the next picture; and where the bench has too much to do. */
const PAUSE = 250;
const LONG_PAUSE = 2000;
/** s that a live picture runs before it is put to rest: a phone left lying is no camera */
const LONGEST = 600;

/** Browsers give the camera to encrypted pages and to those of this machine. */
export const liveThere = (): boolean =>
  globalThis.isSecureContext && typeof navigator.mediaDevices?.getUserMedia === "function";

interface Shutter {
  takePhoto(): Promise<Blob>;
}
declare const ImageCapture: { new (track: MediaStreamTrack): Shutter } | undefined;

export function Live(props: { job: string; side: boolean; take: (photo: File) => void; close: () => void }) {
  const video = useRef<HTMLVideoElement>(null);
  const track = useRef<MediaStreamTrack | null>(null);
  const [check, setCheck] = useState<Check | null>(null);
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);

  useEffect(() => {
    const stop = new AbortController();
    const rest = setTimeout(props.close, LONGEST * 1000);
    const hidden = () => document.hidden && props.close();
    document.addEventListener("visibilitychange", hidden);
    void run(stop.signal);
    return () => {
      stop.abort();
      clearTimeout(rest);
      document.removeEventListener("visibilitychange", hidden);
      track.current?.stop();
    };
  }, []);

  async function run(stop: AbortSignal): Promise<void> {
    try {
      const stream = await navigator.mediaDevices.getUserMedia({
        video: { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1440 } },
        audio: false,
      });
      track.current = stream.getVideoTracks()[0] ?? null;
      if (stop.aborted) return track.current?.stop();
      video.current!.srcObject = stream;
      await video.current!.play();
    } catch {
      if (!stop.aborted)
        setWrong("The camera was not given to this page. Allow it in the browser, or take the photo below.");
      return;
    }
    let before = "";
    // one picture under way at a time; the next one when the answer to it is there
    while (!stop.aborted) {
      let pause = PAUSE;
      try {
        const small = await reduced(video.current!);
        if (small) {
          const found = await glance(small, props.job, { side: props.side }, stop);
          setCheck(found);
          setWrong(null);
          const words = found.first ?? "Good: take the photo.";
          if (words !== before) speak(words);
          before = words;
        }
      } catch (error) {
        if (stop.aborted) return;
        if (error instanceof Refusal && error.code !== "full") setWrong(error.message);
        pause = LONG_PAUSE;
      }
      await new Promise((go) => setTimeout(go, pause));
    }
  }

  async function shoot(): Promise<void> {
    if (!track.current || !ImageCapture) return;
    setBusy(true);
    try {
      const blob = await new ImageCapture(track.current).takePhoto();
      const ending = blob.type === "image/png" ? "png" : "jpg";
      props.take(new File([blob], `photo.${ending}`, { type: blob.type }));
    } catch {
      setWrong("The camera gave no photo. Take it with the button below.");
    } finally {
      setBusy(false);
    }
  }

  const words = check ? (check.first ?? "Good: take the photo.") : "Looking …";
  return (
    <section class="live" aria-label="What the camera sees">
      <div class="marked-photo">
        <video ref={video} muted playsInline aria-label="Live picture of the camera" />
        <Rings check={check} />
      </div>
      <p class={!check || check.ok ? "first" : "first not"}>{wrong ?? words}</p>
      <div class="row">
        {typeof ImageCapture === "function" && (
          <button type="button" class="next" disabled={busy || !check} onClick={() => void shoot()}>
            <Icon sign="camera" /> Take the photo
          </button>
        )}
        <button type="button" onClick={props.close}>
          Close the camera
        </button>
      </div>
      <p class="small faint">Single pictures are looked at and kept nowhere; only what you take is sent.</p>
    </section>
  );
}
