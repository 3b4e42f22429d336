// Asks the service the first question, with types made from its OpenAPI document alone.
import type { paths } from "./api";

type Identify = paths["/v1/identify"]["post"];
type Question = NonNullable<Identify["requestBody"]>["content"]["application/json"];
type Answer = Identify["responses"][200]["content"]["application/json"];
type Problem = Identify["responses"][422]["content"]["application/problem+json"];

async function ask(service: string, question: Question): Promise<Answer> {
  const response = await fetch(`${service}/v1/identify`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(question),
  });
  if (!response.ok) {
    const problem = (await response.json()) as Problem;
    throw new Error(`${problem.code}: ${problem.detail} ${problem.fix}`);
  }
  return (await response.json()) as Answer;
}

declare const process: { argv: string[] };

async function main(): Promise<void> {
  const question: Question = JSON.parse(process.argv[3]);
  const answer = await ask(process.argv[2], question);
  const remaining: string[] = answer.consistent.map((each) => each.taxon);
  console.log(JSON.stringify(remaining));
}

main().catch((error: Error) => console.log(error.message));
