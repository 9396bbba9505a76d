import { decimal } from "@/core/display.ts";
import { nextFeedId, STAGE_FIELDS, type StageFault, type TypedFeed } from "@/core/race_book.ts";
import type { FeedPoint } from "@/protocol/records.ts";
import { issueSentence } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const KINDS = ["start", "zone", "car"] as const satisfies FeedPoint["kind"][];

interface ListProps {
  feeds: readonly TypedFeed[];
  faults: readonly StageFault[];
  lengthKm: number | null;
  onFeeds: (feeds: readonly TypedFeed[]) => void;
}

/** Where bottles change hands: signed zones and car windows, in kilometres from the real start. */
export function FeedList({ feeds, faults, lengthKm, onFeeds }: ListProps) {
  const change = (id: string, more: Partial<TypedFeed>): void => onFeeds(feeds.map((feed) => (feed.id === id ? { ...feed, ...more } : feed)));
  return (
    <fieldset class="sx-feeds-edit">
      <legend>{t("staff.book.feeds")}</legend>
      {feeds.length === 0 && <p class="sx-quiet">{t("staff.book.feeds_empty")}</p>}
      {feeds.map((feed, i) => (
        <FeedEdit
          key={feed.id} feed={feed} n={i + 1} issue={faultText(feed, faults, lengthKm)}
          onChange={(more) => change(feed.id, more)} onRemove={() => onFeeds(feeds.filter((f) => f.id !== feed.id))}
        />
      ))}
      <button type="button" class="button button-quiet" onClick={() => onFeeds([...feeds, { id: nextFeedId(feeds), name: "", kind: "zone", km: "" }])}>
        {t("staff.book.feed_add")}
      </button>
    </fieldset>
  );
}

function faultText(feed: TypedFeed, faults: readonly StageFault[], lengthKm: number | null): string | null {
  const fault = faults.find((f) => f.field === "feed" && f.feedId === feed.id);
  if (fault === undefined || fault.field !== "feed" || (fault.issue === "empty" && feed.km === "" && feed.name === "")) return null;
  if (fault.issue === "beyond_course") return t("staff.book.feed_beyond", { typed: feed.km, km: decimal(lengthKm ?? 0, 1) });
  return issueSentence(fault.issue, feed.km, t("staff.field.km"), STAGE_FIELDS.feedKm);
}

interface EditProps {
  feed: TypedFeed;
  n: number;
  issue: string | null;
  onChange: (more: Partial<TypedFeed>) => void;
  onRemove: () => void;
}

function FeedEdit({ feed, n, issue, onChange, onRemove }: EditProps) {
  const id = `feed-${feed.id}`;
  return (
    <div class="sx-feed-edit" role="group" aria-label={t("staff.book.feed_n", { n })}>
      <div class="sx-field">
        <label for={`${id}-name`}>{t("staff.field.name")}</label>
        <input id={`${id}-name`} value={feed.name} maxLength={80} onInput={(event) => onChange({ name: event.currentTarget.value })} />
      </div>
      <div class="sx-field">
        <label for={`${id}-kind`}>{t("staff.book.kind")}</label>
        <select id={`${id}-kind`} value={feed.kind} onChange={(event) => onChange({ kind: event.currentTarget.value as FeedPoint["kind"] })}>
          {KINDS.map((kind) => <option value={kind} key={kind}>{t(`staff.feed_kind.${kind}`)}</option>)}
        </select>
      </div>
      <div class={issue === null ? "sx-field" : "sx-field sx-field-off"}>
        <label for={`${id}-km`}>{t("staff.field.km")}</label>
        <input
          id={`${id}-km`} inputMode="decimal" value={feed.km} aria-invalid={issue !== null}
          {...(issue === null ? {} : { "aria-describedby": `${id}-issue` })} onInput={(event) => onChange({ km: event.currentTarget.value })}
        />
      </div>
      <button type="button" class="button button-quiet" onClick={onRemove}>{t("staff.book.feed_remove")}<span class="hidden"> {feed.name}</span></button>
      {issue !== null && <p class="sx-issue sx-full" id={`${id}-issue`} role="alert">{issue}</p>}
    </div>
  );
}
