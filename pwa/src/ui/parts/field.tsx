import { useId } from "preact/hooks";

interface FieldProps {
  label: string;
  text: string;
  onText: (text: string) => void;
  unit?: string;
  fault?: string | null | undefined;
  hint?: string;
  mode?: "decimal" | "text";
}

/** A labelled entry; what is wrong with it stands under it, and nothing typed is lost. */
export function Field({ label, text, onText, unit, fault, hint, mode = "decimal" }: FieldProps) {
  const id = useId();
  const said = fault ?? hint;
  return (
    <div class={fault ? "field field-off" : "field"}>
      <label for={id}>{label}</label>
      <span class="field-entry">
        <input
          id={id} inputMode={mode} autocomplete="off" value={text} aria-invalid={Boolean(fault)} spellcheck={false}
          {...(said ? { "aria-describedby": `${id}-said` } : {})}
          onInput={(event) => onText(event.currentTarget.value)}
        />
        {unit !== undefined && <span class="field-unit" aria-hidden="true">{unit}</span>}
      </span>
      {said && <p id={`${id}-said`} class={fault ? "field-fault" : "field-hint"} role={fault ? "alert" : undefined}>{said}</p>}
    </div>
  );
}
