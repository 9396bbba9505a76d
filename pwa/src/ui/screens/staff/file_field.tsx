/** One file to take; the same one can be chosen again after it was mended. */
export function FileField({ id, label, accept, onFile }: { id: string; label: string; accept: string; onFile: (file: File) => void }) {
  return (
    <div class="sx-field">
      <label for={id}>{label}</label>
      <input
        id={id} type="file" accept={accept}
        onChange={(event) => {
          const file = event.currentTarget.files?.[0];
          if (file !== undefined) onFile(file);
          event.currentTarget.value = "";
        }}
      />
    </div>
  );
}
