// Package hardware holds what is known of the small things bought in for a printed enclosure:
// threads, screws, nuts, washers, inserts, standoffs, fans, filament materials, wires, and the
// rules of thumb for holes and gaps. It reads and prints their designations, says which lengths
// are made, and finds the fewest lengths that serve a set of joints.
//
// For most uses: ParseScrew and ParseDesignation turn text into values; ScrewOf, NutOf, WasherOf,
// InsertHole give the figures; Lookup gives every row that concerns a size.
//
// It is not a judge of joints (package fit), knows no meshes, and states no torque: no published
// torque for plastic or inserts was found, so the only advice is "hand tight".
//
// # Figures and their sources
//
// Every figure stands in a text table under tables, with the sources it came from and a
// confidence: A when two or more published sources agree, B for one source (or a choice between
// sources that differ), C for common practice, M for memory. The standards themselves are not
// freely readable and were not read; the figures come from libraries and pages that quote them,
// so a misprint shared by two sources cannot be excluded. Provenance carries this to whoever
// shows or uses a figure; Weak tells when a finding has to say so.
//
// # Conventions
//
// Lengths are millimetres in float64, angles degrees, currents ampere unless a name says mA.
// "Drawn" is a diameter in the model; printed holes come out smaller. All functions are safe for
// concurrent use, and what they return may be kept and changed by the caller.
package hardware
