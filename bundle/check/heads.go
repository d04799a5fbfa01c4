package check

import (
	"fmt"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
)

// head: the head fits its recess in the first member.
func (x *jointRules) head() {
	if len(x.j.Members) == 0 || x.j.Members[0].Kind != "part" || x.j.Standard == "" {
		return
	}
	m := &x.j.Members[0]
	s, ok := hardware.ScrewOf(x.j.Standard, hardware.Size(x.j.Size))
	if !ok || s.HeadDiameter == 0 || m.Role != "clearance" && m.Role != "nut" {
		return
	}
	caveat := weak(s.Caveat())
	for _, h := range each(m) {
		if h.Missing {
			continue
		}
		if m.Role == "nut" {
			if h.Round == nil {
				continue
			}
			h = *h.Round
		}
		if s.Standard.IncludesHead {
			x.countersunk(m, h, s, caveat)
		} else {
			x.counterbore(m, h, s, caveat)
		}
		if len(x.r.findings) > x.before && x.headFound() {
			return // one word on the head is enough for a joint
		}
	}
}

func (x *jointRules) headFound() bool {
	for _, f := range x.r.findings[x.before:] {
		switch f.Code {
		case "sink-missing", "sink-narrow", "head-proud":
			return true
		}
	}
	return false
}

// coneSlack is how far a countersink's rim may fall short of the head's, mm: the head then stands out by half
// of it, a quarter of a layer.
const coneSlack = 0.1

func (x *jointRules) countersunk(m *facts.Member, h facts.FitHole, s hardware.Screw, caveat string) {
	if h.Sink == nil || h.Sink.Kind != "countersink" {
		x.add("sink-missing", x.at(m), fmt.Sprintf("%s: the countersunk head is %s mm wide%s, the hole of %s at %s is %s mm and has no countersink", x.j.Fastener, mm(s.HeadDiameter), caveat, m.Name, where(h.At), mm(h.Diameter)),
			fmt.Sprintf("countersink it to %s mm at 90 degrees, or take another head", mm(s.HeadDiameter)))
		return
	}
	if h.Sink.Diameter < s.HeadDiameter-coneSlack {
		x.add("sink-narrow", x.at(m), fmt.Sprintf("%s: the countersunk head is %s mm wide%s, the countersink of %s at %s is %s mm wide: the head stands out by %s mm", x.j.Fastener, mm(s.HeadDiameter), caveat, m.Name, where(h.At), mm(h.Sink.Diameter), mm((s.HeadDiameter-h.Sink.Diameter)/2)),
			fmt.Sprintf("widen the countersink to %s mm", mm(s.HeadDiameter)))
	}
}

func (x *jointRules) counterbore(m *facts.Member, h facts.FitHole, s hardware.Screw, caveat string) {
	if h.Sink == nil || h.Sink.Kind != "counterbore" {
		return
	}
	if h.Sink.Diameter-m.Allowance < s.HeadDiameter-slack {
		x.add("sink-narrow", x.at(m), fmt.Sprintf("%s: the head is %s mm wide%s, the recess of %s at %s is %s mm as drawn and prints %s mm smaller", x.j.Fastener, mm(s.HeadDiameter), caveat, m.Name, where(h.At), mm(h.Sink.Diameter), mm(m.Allowance)),
			fmt.Sprintf("draw the recess %s mm wide or more", mm(s.HeadDiameter+m.Allowance+0.2)))
		return
	}
	if s.HeadHeight > 0 && h.Sink.Depth < s.HeadHeight-0.05 {
		x.add("head-proud", x.at(m), fmt.Sprintf("%s: the head is %s mm high%s, the recess of %s at %s is %s mm deep: the head stands out by %s mm", x.j.Fastener, mm(s.HeadHeight), caveat, m.Name, where(h.At), mm(h.Sink.Depth), mm(s.HeadHeight-h.Sink.Depth)),
			"nothing to do if it is meant; else deepen the recess")
	}
}
