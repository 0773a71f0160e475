/**
 * Scenarios that the page carries: name of the file, what it is called here.
 */
export const stations = [
    ["nursery-bled", "Glasshouse nursery, one valve"],
    ["nursery-air", "Glasshouse nursery, air in the cover"],
    ["nursery-night", "Glasshouse nursery, at night"],
    ["school-staged", "School, three stages"],
    ["laundry-commissioning", "Laundry, in psi and gpm"],
];
