/** Reads a QR code from the camera: by the browser's own detector where it has one, else by jsQR, fetched when first needed. */

interface Detector {
  detect: (source: HTMLVideoElement) => Promise<readonly { rawValue: string }[]>;
}
type Reader = (video: HTMLVideoElement) => Promise<string | null>;
declare global {
  // eslint-disable-next-line no-var
  var BarcodeDetector: { new (options: { formats: string[] }): Detector; getSupportedFormats: () => Promise<string[]> } | undefined;
}

const LOOK_EVERY_MS = 150;

async function nativeReader(): Promise<Reader | null> {
  const Native = globalThis.BarcodeDetector;
  if (Native === undefined || !(await Native.getSupportedFormats().catch((): string[] => [])).includes("qr_code")) return null;
  const detector = new Native({ formats: ["qr_code"] });
  return async (video) => (await detector.detect(video))[0]?.rawValue ?? null;
}

async function ownReader(): Promise<Reader> {
  const { default: jsQR } = await import("jsqr");
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("2d", { willReadFrequently: true });
  return async (video) => {
    if (context === null || video.videoWidth === 0) return null;
    canvas.width = video.videoWidth;
    canvas.height = video.videoHeight;
    context.drawImage(video, 0, 0);
    const { data, width, height } = context.getImageData(0, 0, canvas.width, canvas.height);
    return jsQR(data, width, height, { inversionAttempts: "dontInvert" })?.data ?? null;
  };
}

/** Show the camera and call once per code seen; returns how to stop. Rejects when there is no camera or it is refused. */
export async function scan(video: HTMLVideoElement, onText: (text: string) => void): Promise<() => void> {
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" }, audio: false });
  const read = (await nativeReader()) ?? (await ownReader());
  video.srcObject = stream;
  await video.play();
  let isOn = true;
  let before = "";
  const look = async (): Promise<void> => {
    const text = isOn ? await read(video).catch(() => null) : null;
    if (text !== null && text !== before) onText(text);
    before = text ?? before;
    if (isOn) setTimeout(() => void look(), LOOK_EVERY_MS);
  };
  void look();
  return () => {
    isOn = false;
    for (const track of stream.getTracks()) track.stop();
  };
}
