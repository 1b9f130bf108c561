/** A small picture of a photo, or of what the camera sees, and what the bench says of it. */

import { request } from "../api/http";
import type { Check } from "../api/types";

/** px of the longer side: enough for the mat's squares and the cards, and soon sent. */
const SIDE = 1600;
const QUALITY = 0.85;

interface Small {
  blob: Blob;
  /** px of the photo for one px of the small picture */
  finer: number;
}

type Seen = HTMLVideoElement | ImageBitmap;

/** Null where the browser cannot draw it. */
export async function reduced(seen: Seen): Promise<Small | null> {
  const [width, height] =
    seen instanceof HTMLVideoElement ? [seen.videoWidth, seen.videoHeight] : [seen.width, seen.height];
  if (!width || !height) return null;
  const scale = Math.min(1, SIDE / Math.max(width, height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const context = canvas.getContext("2d", { alpha: false });
  if (!context) return null;
  context.imageSmoothingQuality = "high";
  context.drawImage(seen, 0, 0, canvas.width, canvas.height);
  const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  return blob && { blob, finer: 1 / scale };
}

/** A photo from the camera, upright; null for a kind of picture that this browser does not read. */
export async function reducedFile(file: File): Promise<Small | null> {
  try {
    const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    try {
      return await reduced(bitmap);
    } finally {
      bitmap.close();
    }
  } catch {
    return null;
  }
}

export function glance(
  small: Small,
  job: string,
  { photo = false, side = false }: { photo?: boolean; side?: boolean },
  stop?: AbortSignal,
): Promise<Check> {
  const asked = new URLSearchParams();
  if (job) asked.set("job", job);
  if (photo) asked.set("finer", small.finer.toFixed(3));
  if (side) asked.set("side", "1");
  return request<Check>("POST", `/api/glance?${asked.toString()}`, small.blob, stop);
}

/** Lets the bench get ready for a glance; that it cannot is told when one is asked for. */
export function wake(): Promise<unknown> {
  return request("GET", "/api/glance").catch(() => undefined);
}
