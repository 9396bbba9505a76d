import type { EvidenceKind } from "@/protocol/records.ts";
import { t } from "@/ui/words.ts";

const SHAPES: Partial<Record<EvidenceKind, preact.JSX.Element>> = {
  weighed: <rect class="fill" x="2" y="2" width="8" height="8" />,
  measured: <rect class="fill" x="1.5" y="4" width="9" height="4" />,
  counted: <path class="fill" d="M6 .5 11.5 6 6 11.5 .5 6Z" />,
  tapped: <circle class="fill" cx="6" cy="6" r="4.4" />,
  recalled: <circle class="ring" cx="6" cy="6" r="3.9" />,
};

/** How a figure is known. Stands right behind the figure and nowhere else. */
export function Evidence({ kind }: { kind: EvidenceKind | null }) {
  const shape = kind === null ? undefined : SHAPES[kind];
  if (kind === null || shape === undefined) return null;
  return <svg class="evidence" viewBox="0 0 12 12" role="img" aria-label={t(`evidence.${kind}`)}>{shape}</svg>;
}
