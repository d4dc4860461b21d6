// Takes a board file, a constant or a record in, by choosing it or by dropping it on the page.
//
// The links that give them out are plain links of `index.html`. What came in changes the candidate,
// and can be undone.

import { place, say } from "./elements.js";
import { faults_in_words } from "./words.js";
import { page_id, Unanswered } from "./server.js";

export function start_imports(server, candidate) {
  const [input, drop_place, says] = [place("import-file"), place("drop-place"), place("import-says")];

  async function take(file, at) {
    say(says, `Reading ${file.name} …`);
    // A header carries plain letters only.
    const headers = { "X-File-Name": encodeURIComponent(file.name), "X-Page": page_id };
    try {
      const { answer } = await server.ask("/api/import", new Blob([file]), headers);
      if (answer.accepted === false) {
        say(says, `${file.name} was not taken: ${faults_in_words(answer.faults)}`);
        return;
      }
      candidate.take_answer(answer, at);
      say(says, `${file.name} is the candidate now. Undo brings back what was here.`);
    } catch (problem) {
      if (!(problem instanceof Unanswered)) throw problem;
      say(says, `${file.name} was not taken: the server did not answer. Choose it again once it is back.`);
    }
  }

  input.addEventListener("change", (event) => {
    if (input.files.length > 0) take(input.files[0], event.timeStamp);
    // The same file may be chosen twice.
    input.value = "";
  });
  document.addEventListener("dragover", (event) => {
    if (!event.dataTransfer.types.includes("Files")) return;
    event.preventDefault();
    drop_place.classList.add("over");
  });
  document.addEventListener("dragleave", () => drop_place.classList.remove("over"));
  document.addEventListener("drop", (event) => {
    drop_place.classList.remove("over");
    if (event.dataTransfer.files.length === 0) return;
    event.preventDefault();
    take(event.dataTransfer.files[0], event.timeStamp);
  });
}
