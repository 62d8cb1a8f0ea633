/** The sheet on the screen: one picture under all that is drawn, put there by a CSS matrix. */

import Layer from "ol/layer/Layer";
import type { FrameState } from "ol/Map";

import { matrix, type Placed } from "./placed";

export interface Shown extends Placed {
  readonly address: string;
  readonly opacity: number;
}

export class Underlay {
  readonly layer: Layer;
  private readonly holder = document.createElement("div");
  private readonly picture = document.createElement("img");
  private shown: Shown | null = null;

  constructor() {
    this.holder.className = "plan-sheet";
    this.picture.alt = "";
    this.picture.draggable = false;
    this.holder.append(this.picture);
    this.layer = new Layer({ zIndex: -1, render: (frame) => this.render(frame) });
    this.layer.setVisible(false);
  }

  show(shown: Shown | null): void {
    this.shown = shown;
    if (shown && this.picture.src !== shown.address) this.picture.src = shown.address;
    this.layer.setVisible(shown !== null);
    this.layer.changed();
  }

  private render({ viewState, size }: FrameState): HTMLElement {
    const { shown } = this;
    if (shown) {
      const [x = 0, y = 0] = viewState.center;
      const [wide = 0, high = 0] = size;
      const style = this.picture.style;
      style.transform = `matrix(${matrix(shown, [x, y], viewState.resolution, [wide, high]).join(",")})`;
      style.width = `${shown.size[0]}px`;
      style.height = `${shown.size[1]}px`;
      style.opacity = String(shown.opacity);
    }
    return this.holder;
  }
}
