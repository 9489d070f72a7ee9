// A photograph of a tag's symbol is made small here and read by the laptop.

import { _ } from "./words.js";

const LONGEST_SIDE = 2000;

async function smaller(file) {
  try {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    if (scale === 1 && file.size < 4_000_000) return file;
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve) => canvas.toBlob((blob) => resolve(blob || file), "image/jpeg", 0.9));
  } catch {
    return file;
  }
}

/** The text in the symbol, as {text}, or {problem} in words. */
export async function readSymbol(file) {
  if (!file) return { problem: _("No photograph was taken.") };
  try {
    const response = await fetch("/api/symbol", { method: "POST", body: await smaller(file), headers: { "content-type": "application/octet-stream" } });
    const answer = await response.json();
    if (!response.ok) return { problem: answer.words || _("The photograph could not be read.") };
    return answer.texts.length ? { text: answer.texts[0] } : { problem: _("No symbol found. Nearer, flatter, more light; or type the tag.") };
  } catch {
    return { problem: _("The laptop is out of reach: type the tag instead.") };
  }
}
