// Why a cause is as likely as it is: the book's weight, the depot's confirmed ones, what the log tells, each sign.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { Plate } from "../part/plate.js";
import { Reasons } from "../part/reasons.js";
import { Answer } from "../part/trouble.js";

export default function TraceWhy({ params }) {
  const answer = useAsk(["machines", params.name, "trace", params.symptom, "why", params.key]);
  useTitle(answer.data?.title);
  return html`<${Answer} whole of=${answer}>${(why) => html`
    <div class="lead"><${Plate} name=${params.name} large link /><h1>${why.title}</h1></div>
    <section class="sheet why"><${Reasons} why=${why} /></section>`}<//>`;
}
