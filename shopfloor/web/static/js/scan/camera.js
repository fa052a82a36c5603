// Reads QR codes with the tablet's camera, in browsers that can.

const LOOK_MS = 200;

/** Whether this browser reads QR codes and this address may use the camera. */
export async function canRead() {
  if (!("BarcodeDetector" in globalThis) || !navigator.mediaDevices?.getUserMedia) return false;
  return (await BarcodeDetector.getSupportedFormats()).includes("qr_code");
}

/**
 * Show the camera in `video` until a code is read or `signal` says stop; resolves with the text, or null.
 *
 * Rejects if the camera is not allowed or not there.
 */
export async function readWithCamera(video, signal) {
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  try {
    video.srcObject = stream;
    await video.play();
    return await firstCode(new BarcodeDetector({ formats: ["qr_code"] }), video, signal);
  } finally {
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  }
}

async function firstCode(detector, video, signal) {
  while (!signal.aborted) {
    const [found] = await detector.detect(video);
    if (found) return found.rawValue;
    await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
  }
  return null;
}
