// What a person's role is called on the page.

const NAMES = { patient: "Patient", carer: "Carer", practitioner: "Practitioner", other: "Somebody else" };

/** The role in words; an unknown one is "Somebody else". */
export function roleName(role) {
  return NAMES[role] ?? NAMES.other;
}
