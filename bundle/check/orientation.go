package check

import (
	"fmt"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

const (
	// poorContact: a face that gives the bed less than this share of what the best one gives does not hold the
	// part. Assumed.
	poorContact = 0.02
	// A turn is worth a word when it saves half of the overhang, and at least so much of it: the underside of
	// a small window. Assumed.
	saveShare, saveArea = 0.5, 150.0 // mm2
	// usualLayer stands in where no layer height is set, so that its absence is said once.
	usualLayer = 0.2 // mm
)

// orientation: each part stands on a face that holds it, flat on the bed, and fits beds that others have.
func orientation(in *Input, r *report) {
	type key struct {
		file design.Path
		face design.Face
	}
	done := map[key]bool{}
	for _, u := range meshUses(in.Design) {
		face := u.part.StandOn.Or("-z")
		s, ok := in.Facts.Solid(string(u.file.V))
		if !ok || !in.sound(s.File) || u.part.Role.V == "reference" || done[key{u.file.V, face}] {
			continue
		}
		done[key{u.file.V, face}] = true
		judgeStand(s, u, string(face), r)
		if x, ok := s.StoodOn(string(face)); ok {
			judgeStood(in, s, u, x, r)
		}
	}
}

func judgeStand(s *facts.Solid, u meshUse, face string, r *report) {
	now, best := s.On(face), s.On(s.Best)
	at := u.file.At
	if u.part.StandOn.Set() {
		at = u.part.StandOn.At
	}
	turn := fmt.Sprintf("write stand_on: %q for %s, or turn it in CAD and export again", s.Best, u.part.Name.V)
	switch {
	case s.Best == face:
	case now.Contact < poorContact*best.Contact:
		r.add("stand-poor", at, "", fmt.Sprintf("%s touches the bed with %.0f mm² as it stands; on its %s face it would with %.0f mm²", s.File, now.Contact, s.Best, best.Contact), turn)
	case now.Overhang-best.Overhang >= max(saveArea, saveShare*now.Overhang):
		r.add("stand-better", at, "", fmt.Sprintf("%s overhangs with %.0f mm² as it stands; on its %s face with %.0f mm², and touches the bed with %.0f mm²", s.File, now.Overhang, s.Best, best.Overhang, best.Contact), turn)
	}
}

func judgeStood(in *Input, s *facts.Solid, u meshUse, x facts.Stood, r *report) {
	layer := usualLayer
	set := u.part.Print.Over(in.House.Print)
	if set.FirstLayer.Set() {
		layer = float64(set.FirstLayer.V)
	} else if set.Layer.Set() {
		layer = float64(set.Layer.V)
	}
	for _, l := range x.Ledges {
		if l.Height < layer {
			r.add("bottom-uneven", u.file.At, "", fmt.Sprintf("%s has %.0f mm² of flat underside %.2f mm above the bed, less than a layer (%g mm), near x %.1f, y %.1f, z %.1f mm", s.File, l.Area, l.Height, layer, l.At[0], l.At[1], l.At[2]), "draw it level with the bottom, or a whole layer above it")
			break
		}
	}
	if x.OffBed != 0 && in.Design.Frame.V != "assembled" {
		r.add("mesh-off-bed", u.file.At, "", fmt.Sprintf("%s lies %.2f mm %s z = 0", s.File, max(x.OffBed, -x.OffBed), above(x.OffBed)), "nothing need be done: programs that slice set it down; exported on z = 0 it also looks right elsewhere")
	}
	for _, f := range in.Facts.Parts {
		if f.Mesh == s.File && !x.Common && len(f.FitsOn) > 0 {
			r.add("bed-common", u.file.At, "", fmt.Sprintf("%s does not fit the common bed of 180 × 180 × 180 mm", s.File), "say so in the story, or offer a version in two pieces")
			break
		}
	}
}

func above(x float64) string {
	if x > 0 {
		return "above"
	}
	return "below"
}
