// A photo from the phone's camera, made small enough to send over a weak network, with its SHA-256.
import { hex, sha256 } from "./chain.js";

const LONGEST = 1600; // pixels of the longer side: a wear mark can still be seen
const QUALITY = 0.8;

/** {sha256, type, name, bytes} of a file of the camera. Throws where it is no picture. */
export async function photoOf(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => { canvas.toBlob(resolve, "image/jpeg", QUALITY); });
  const bytes = await blob.arrayBuffer();
  const name = `${(file.name || "photo").replace(/\.[^.]*$/, "").replace(/[^\w.-]+/g, "-").slice(0, 60) || "photo"}.jpg`;
  return { sha256: hex(await sha256(bytes)), type: "image/jpeg", name, bytes };
}

/** The entry that keeps a photo with the entry it is about. */
export const photoEntry = (machine, photo) => ({ machine, kind: "attachment", body: (before) => ({ sha256: photo.sha256, name: photo.name, type: photo.type, bytes: photo.bytes.byteLength, about: before[0]?.id }) });
