// Photos of an entry: made small in the phone, shown, and kept with what was typed.
"use strict";

const LONGEST = 1600; // pixels; the server makes them smaller still
const MOST = 4;

// Small enough for a bad link, and without the place that a camera writes into it. Where this
// browser cannot read it, it goes as it is, and the server says what is wrong.
async function shrunk(file) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(image.width * scale));
    canvas.height = Math.max(1, Math.round(image.height * scale));
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    image.close();
    const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    return made || file;
  } catch {
    return file;
  }
}

// A canvas, for the page's rules let no picture in but the server's own.
async function preview(photo, number) {
  const canvas = document.createElement("canvas");
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", `Photo ${number}`);
  try {
    const image = await createImageBitmap(photo);
    canvas.height = 120;
    canvas.width = Math.min(240, Math.max(1, Math.round((image.width / image.height) * 120)));
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    image.close();
    return canvas;
  } catch {
    const words = document.createElement("span");
    words.textContent = `Photo ${number}: this phone cannot show it`;
    return words;
  }
}

export class PhotoField {
  constructor(form, photos, changed) {
    this.input = form.querySelector("input[type=file]");
    this.strip = form.querySelector(".strip.taken");
    this.words = form.querySelector(".camera .button");
    this.photos = photos;
    this.changed = changed;
    this.input?.addEventListener("change", () => this.take());
    this.show();
  }

  async take() {
    for (const file of this.input.files) {
      if (this.photos.length < MOST) this.photos.push(await shrunk(file));
    }
    this.input.value = ""; // it is sent from the list, with those before it
    await this.show();
    this.changed();
  }

  async show() {
    if (!this.strip) return;
    const shown = await Promise.all(this.photos.map((photo, at) => preview(photo, at + 1)));
    this.strip.replaceChildren(
      ...shown.map((picture, at) => {
        const one = document.createElement("figure");
        const away = document.createElement("button");
        away.type = "button";
        away.className = "lesser";
        away.textContent = "Leave it out";
        away.addEventListener("click", async () => {
          this.photos.splice(at, 1);
          await this.show();
          this.changed();
        });
        one.append(picture, away);
        return one;
      }),
    );
    if (this.photos.length) this.words.textContent = "One more photo";
    this.input.disabled = this.photos.length >= MOST;
    this.words.hidden = this.input.disabled;
  }
}
