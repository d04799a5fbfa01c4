package check

import (
	"fmt"

	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// fanPlay is how far a fan's hole may be off, mm: half the difference of its hole and its screw and a print's
// accuracy (30 and 40 mm frames: 3.2 to 3.5 for M3).
const fanPlay = 0.1 + printPlay

// fanCentred is how far a fan's opening may lie beside its middle, mm: our own choice, a line or two of print.
const fanCentred = 1.0

// fans: every square fan has its holes and an opening before it.
func fans(in *Input, r *report) {
	if in.Facts.Boards == nil {
		return
	}
	for _, f := range in.Facts.Boards.Fans {
		b, _ := in.Design.BoughtPart(f.Fan)
		fan(r, f, b.Name.At, askew(in, f))
	}
}

// askew tells that a joint of the fan has holes that are missing or off: what the joint's own rules say then.
func askew(in *Input, f facts.FanSeat) bool {
	if in.Facts.Fit == nil {
		return false
	}
	for _, j := range in.Facts.Fit.Joints {
		with, off := false, false
		for _, m := range j.Members {
			with = with || m.Name == f.Fan
			for _, h := range m.Holes {
				off = off || h.Missing || h.Off > fanPlay
			}
		}
		if j.Variant == f.Variant && with && off {
			return true
		}
	}
	return false
}

func fan(r *report, f facts.FanSeat, at finding.Place, askew bool) {
	for _, m := range f.Missing {
		r.unknown(at, variantName(f.Variant), "the seat of "+f.Fan+": "+m)
	}
	if len(f.Missing) > 0 {
		return
	}
	var weak []string
	if f.Weak && f.Basis != "" {
		weak = []string{"pitch: " + f.Basis}
	}
	hint := fmt.Sprintf("a %s mm frame has its holes %s mm apart; opening up to %s mm", mm(f.Frame), mm(f.Pitch), mm(f.Frame))
	switch {
	case askew:
		return
	case f.Found == 0:
		r.add("fan-pitch", at, f.Variant, owning(fmt.Sprintf("%s: %s has no square of holes near %s mm", f.Fan, f.Part, mm(f.Pitch)), weak), hint)
		return
	case f.Off > fanPlay+1e-3:
		r.add("fan-pitch", at, f.Variant, owning(fmt.Sprintf("%s: the holes of %s are %s mm apart and up to %s mm off; needed are %s mm, within %s mm", f.Fan, f.Part, mm(f.Found), mm(f.Off), mm(f.Pitch), mm(fanPlay)), weak), hint)
	}
	switch {
	case f.Opening == nil:
		r.add("fan-covered", at, f.Variant, fmt.Sprintf("%s: %s has no opening between its holes", f.Fan, f.Part), hint)
	case *f.Opening > f.Frame:
		r.add("fan-covered", at, f.Variant, fmt.Sprintf("%s: the opening of %s is %s mm wide, the fan's frame %s mm", f.Fan, f.Part, mm(*f.Opening), mm(f.Frame)), hint)
	case f.Centred > fanCentred:
		r.add("fan-covered", at, f.Variant, fmt.Sprintf("%s: the opening of %s lies %s mm beside the fan's middle; allowed is %s mm", f.Fan, f.Part, mm(f.Centred), mm(fanCentred)), hint)
	}
}
