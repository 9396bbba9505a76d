/** The size of the paper a page asks the printer for: a style sheet of its own, since the policy allows no inline one. */

import { useLayoutEffect } from "preact/hooks";

export function usePaper(size: string, margin: string): void {
  useLayoutEffect(() => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(`@page { size: ${size}; margin: ${margin}; }`);
    document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
    return () => {
      document.adoptedStyleSheets = document.adoptedStyleSheets.filter((one) => one !== sheet);
    };
  }, [size, margin]);
}
