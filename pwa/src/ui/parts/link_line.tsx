import { isCopied, isKeyRefused, link, unsent } from "@/store/state.ts";
import { t } from "@/ui/words.ts";

/** The one line about the network: what the server last confirmed, and how many facts wait on this phone. */
export function LinkLine() {
  const n = unsent.value?.count ?? 0;
  const words = (): string => {
    if (isKeyRefused.value || isCopied.value) return t("link.keyRefused", { n });
    if (link.value === "passing") return t("link.passing");
    if (n > 0) return t("link.held", { n });
    return link.value === "linked" ? t("link.linked") : t("link.nothingHeld");
  };
  return <p class={isKeyRefused.value || isCopied.value ? "link-line link-refused" : "link-line"} role="status">{words()}</p>;
}
