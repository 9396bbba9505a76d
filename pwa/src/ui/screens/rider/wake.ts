import { useEffect } from "preact/hooks";

const IDLE_MS = 30_000;

/** Keep the screen on while this page is seen; the lock goes on hide and is asked for again. */
export function useAwake(): void {
  useEffect(() => {
    let lock: WakeLockSentinel | null = null;
    const ask = async (): Promise<void> => {
      if (document.visibilityState !== "visible" || !("wakeLock" in navigator)) return;
      try {
        lock = await navigator.wakeLock.request("screen");
      } catch {
        // Refused, or the battery is low: nothing depends on it.
      }
    };
    void ask();
    document.addEventListener("visibilitychange", ask);
    return () => {
      document.removeEventListener("visibilitychange", ask);
      void lock?.release();
    };
  }, []);
}

/** Call once nobody has touched the screen for half a minute. */
export function useIdle(onIdle: () => void): void {
  useEffect(() => {
    let timer = setTimeout(onIdle, IDLE_MS);
    const again = (): void => {
      clearTimeout(timer);
      timer = setTimeout(onIdle, IDLE_MS);
    };
    addEventListener("pointerdown", again);
    addEventListener("keydown", again);
    return () => {
      clearTimeout(timer);
      removeEventListener("pointerdown", again);
      removeEventListener("keydown", again);
    };
  }, []);
}
