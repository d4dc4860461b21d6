// The page begins here: makes the parts, and tells each one what the others found.
//
// What the board holds comes from `server`, what it feels like from `feel`; nothing is computed here.

import { place, say } from "./elements.js";
import { page_id, Server } from "./server.js";
import { Candidate, differences_between } from "./candidate.js";
import { Feel } from "./feel.js";
import { CurvePicture } from "./curve_picture.js";
import { HandleTable } from "./handle_table.js";
import { ValueFields } from "./values.js";
import { fill_stand_choices } from "./stand_choices.js";
import { FeltPicture } from "./felt_picture.js";
import { ResponsePictures } from "./response_pictures.js";
import { StopsTable } from "./stops_table.js";
import { draw_costs, draw_reasons } from "./held_back.js";
import { Verdict } from "./verdict.js";
import { differences_table } from "./differences_table.js";
import { Notices } from "./notices.js";
import { Standing } from "./standing.js";
import { start_imports } from "./files.js";
import { start_steps } from "./steps.js";
import { Riding } from "./riding.js";
import { note_painted } from "./timing.js";

const server = new Server();
const candidate = new Candidate(server);
const feel = new Feel(server, candidate);
const curve_picture = new CurvePicture(candidate, place("curve-picture"));
const handle_table = new HandleTable(candidate, curve_picture, place("handle-tables"));
const values = new ValueFields(candidate, place("values"));
const felt = new FeltPicture(place("felt"));
const responses = new ResponsePictures(place("responses"));
const stops = new StopsTable(place("stops"));
const verdict = new Verdict(place("verdict"));
const riding = new Riding(candidate, feel);
const standing = new Standing(server, candidate, new Notices(place("notices")), { curve_picture, riding });

function draw_candidate() {
  curve_picture.draw();
  handle_table.draw();
  values.draw();
  const { board, on_board, values: now, can_undo, can_redo } = candidate;
  place("undo").disabled = !can_undo;
  place("redo").disabled = !can_redo;
  const changed = differences_between(on_board, now).length;
  place("start-again").disabled = changed === 0;
  const table = differences_table(
    on_board,
    now,
    board.keys,
    ["on the board", "candidate"],
    "candidate and board",
  );
  place("differences").replaceChildren(
    table ?? document.createTextNode("The candidate is what is on the board."),
  );
  say(place("checksum-candidate"), now.checksum ?? "none");
  say(place("checksum-board"), on_board.checksum ?? "none");
  const same = now.checksum === on_board.checksum ? "the same" : "not the same";
  say(place("checksum-same"), now.checksum ? same : "–");
}

candidate.addEventListener("changed", (event) => {
  draw_candidate();
  if (feel.stand) feel.ask(event.detail.at);
});

feel.addEventListener("answered", (event) => {
  const { answer } = feel;
  felt.draw(answer);
  responses.draw(answer);
  stops.draw(answer);
  draw_reasons(place("reasons"), answer);
  draw_costs(place("costs"), answer);
  verdict.draw(answer);
  note_painted(answer.revision, event.detail.at);
});
feel.addEventListener("unanswered", (event) => {
  if (server.there) verdict.unknown(event.detail.why);
});

place("start-again").addEventListener("click", (event) => {
  candidate.change([{ whole: "on_board" }], { at: event.timeStamp });
  // The button goes grey; what was done is read here.
  place("differences-title").focus();
});

/** All of a board, whether it is the first one or the server has come back. */
function take_board(board) {
  document.title = `${board.name} – workbench`;
  say(place("board-name"), board.name);
  say(place("board-file"), `${board.file}; the candidate is written to ${board.candidate_file}`);
  say(place("version"), board.version);
  feel.begin(board);
  if (!candidate.board) fill_stand_choices(place("stands"), board, feel);
  riding.offer_paces(board.paces);
  candidate.take_board(board);
}

standing.watch(take_board);
start_steps(candidate);
start_imports(server, candidate);
document.documentElement.dataset.page = page_id;
server.look_again();
