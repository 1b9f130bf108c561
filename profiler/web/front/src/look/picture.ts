/** The photo in halves of halves, so that a frame never has to shrink twelve million px. */

import type { Size, View } from "./view";

const LEAST_SIDE = 500;

export class Picture {
  private readonly levels: { bitmap: ImageBitmap; share: number }[] = [];

  /** `size` is that of the undistorted photo; what is drawn may come in coarser at first. */
  constructor(readonly size: Size) {}

  /** Takes a picture of any size in; finer ones go before coarser ones. */
  async add(bitmap: ImageBitmap): Promise<void> {
    let level = bitmap;
    for (;;) {
      const share = level.width / this.size.width;
      this.levels.push({ bitmap: level, share });
      if (Math.max(level.width, level.height) < 2 * LEAST_SIDE) break;
      if (this.levels.some((l) => Math.abs(l.share - share / 2) < 0.02 * share)) break;
      level = await createImageBitmap(level, {
        resizeWidth: Math.round(level.width / 2),
        resizeHeight: Math.round(level.height / 2),
        resizeQuality: "medium",
      });
    }
    this.levels.sort((a, b) => a.share - b.share);
  }

  get empty(): boolean {
    return this.levels.length === 0;
  }

  get finest(): number {
    return this.levels.at(-1)?.share ?? 0;
  }

  /** Draws what of the photo lies in the window. `density` is device px per CSS px. */
  draw(context: CanvasRenderingContext2D, view: View, window: Size, density: number): void {
    const wanted = view.scale * density;
    const level = this.levels.find((l) => l.share >= wanted * 0.999) ?? this.levels.at(-1);
    if (!level) return;
    const left = Math.max(0, Math.floor(view.x) - 1);
    const top = Math.max(0, Math.floor(view.y) - 1);
    const right = Math.min(this.size.width, Math.ceil(view.x + window.width / view.scale) + 1);
    const bottom = Math.min(this.size.height, Math.ceil(view.y + window.height / view.scale) + 1);
    if (right <= left || bottom <= top) return;
    // single px are to be seen as such, not as fog
    context.imageSmoothingEnabled = wanted / level.share < 3;
    const s = level.share;
    context.drawImage(
      level.bitmap,
      left * s,
      top * s,
      (right - left) * s,
      (bottom - top) * s,
      (left - view.x) * view.scale * density,
      (top - view.y) * view.scale * density,
      (right - left) * view.scale * density,
      (bottom - top) * view.scale * density,
    );
  }

  close(): void {
    for (const level of this.levels) level.bitmap.close();
    this.levels.length = 0;
  }
}
