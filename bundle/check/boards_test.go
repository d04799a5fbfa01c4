package check

import (
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/manifest"
)

func fp(v float64) *float64 { return &v }

// seated is a board that sits well; the cases spoil one thing each.
func seated() facts.Seat {
	pose := facts.Pose{At: [3]float64{0, 0, 8.6}, Face: "up", Out: [3]float64{0, 0, 1}}
	s := facts.Seat{Variant: "a", Board: "board", Profile: "pc104", Part: "box", State: facts.SeatFound, Pose: &pose, Gap: fp(1), GapAt: &[2]float64{0, 0}, NeedGap: 0.45,
		Above: &facts.Room{Limit: fp(7)}, Below: &facts.Room{Free: fp(7), Limit: fp(3.4)}}
	for _, id := range []string{"M1", "M2", "M3", "M4"} {
		s.Mounts = append(s.Mounts, facts.SeatMount{ID: id, Met: true, Off: fp(0), Lower: fp(0), Play: fp(0), Support: 12})
	}
	s.Ports = []facts.PortFit{{ID: "usb", Connector: "usb-c", Required: true, Verdict: facts.PortFree, Plug: [2]float64{12.35, 6.5}, Clearance: 1, Need: 0.2,
		Opening: &facts.Window{Left: fp(7), Right: fp(7), Down: fp(4), Up: fp(4)}}}
	return s
}

func judgeSeat(t *testing.T, s facts.Seat) (found, texts, open []string) {
	t.Helper()
	text := "title: X\nsummary: X.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: x}]\nlicence: CC0-1.0\ncolours: {body: clay}\nvariants: [{name: a, board: pc104, sits_in: box}]\nparts: [{name: box, colour: body, mesh: box.stl}]\n"
	d, _, _ := manifest.Decode("x", "design.yaml", []byte(text), manifest.Context{Filaments: []string{"clay"}})
	r := &report{variants: d.VariantNames()}
	in := &Input{Design: d, House: &design.House{}, Facts: &facts.Design{Measured: facts.Measured{Boards: &facts.Boards{Seats: []facts.Seat{s}}}}}
	boards(in, r)
	ports(in, r)
	for _, f := range r.merged() {
		found = append(found, f.Code)
		texts = append(texts, f.Text)
		if f.Hint == "" || !f.At.Known() {
			t.Errorf("%s: no hint or place: %+v", f.Code, f)
		}
	}
	for _, n := range r.notChecked {
		open = append(open, n.Text)
	}
	return found, texts, open
}

// Each finding says what was measured and what is allowed or needed, with the unit.
func TestSeatRules(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(s *facts.Seat)
		want  string
		says  []string
		open  string
	}{
		{"well", func(s *facts.Seat) {}, "", nil, ""},
		{"gap below the tolerance", func(s *facts.Seat) { s.Gap = fp(0.2) }, "board-blocked", []string{"0.2 mm", "0.25 mm"}, ""},
		{"gap below the need", func(s *facts.Seat) { s.Gap = fp(0.3) }, "board-close", []string{"0.3 mm", "0.45 mm"}, ""},
		{"gap as needed", func(s *facts.Seat) { s.Gap = fp(0.45) }, "", nil, ""},
		{"nothing beside it", func(s *facts.Seat) { s.Gap = nil }, "", nil, ""},
		{"inside material", func(s *facts.Seat) {
			s.Inside = true
			s.Gap = fp(0)
			s.Above.Short = &facts.Intrusion{Free: 1, Need: 7}
		}, "board-blocked", []string{"lies where the board is"}, ""},
		{"headroom on a weak figure", func(s *facts.Seat) { s.Above.Short = &facts.Intrusion{Free: 5.2, Need: 6.5, Basis: "scaled"} }, "headroom-short", []string{"5.2 mm", "6.5 mm", "measured off a drawing"}, ""},
		{"underside", func(s *facts.Seat) { s.Below.Short = &facts.Intrusion{Free: 2, Need: 3.4} }, "underside-short", []string{"2 mm", "3.4 mm"}, ""},
		{"mount beside its hole", func(s *facts.Seat) { s.Mounts[1].Off = fp(0.35) }, "mount-missed", []string{"M2", "0.35 mm", "0.2 mm"}, ""},
		{"mount within play", func(s *facts.Seat) { s.Mounts[1].Off, s.Mounts[1].Play = fp(0.35), fp(0.2) }, "", nil, ""},
		{"post without a hole", func(s *facts.Seat) { s.Mounts[2] = facts.SeatMount{ID: "M3", Support: 9} }, "mount-missed", []string{"no hole"}, ""},
		{"no post", func(s *facts.Seat) { s.Mounts[2] = facts.SeatMount{ID: "M3"} }, "mount-missed", []string{"neither post nor hole"}, ""},
		{"a low post", func(s *facts.Seat) { s.Mounts[3].Met, s.Mounts[3].Lower = false, fp(1.5) }, "mount-missed", []string{"1.5 mm lower"}, ""},
		{"two seats", func(s *facts.Seat) { s.Others = []facts.Pose{{At: [3]float64{96, 90, 8.6}, Turn: 180}} }, "seat-ambiguous", []string{"[96, 90, 8.6]", "180°"}, ""},
		{"keepout", func(s *facts.Seat) {
			s.Keepouts = []facts.KeepRoom{{ID: "pins", Reason: "bus pins", Hit: &facts.Intrusion{Free: 9, Need: 10.67, Basis: "scaled"}}}
		}, "keepout-filled", []string{"9 mm", "10.67 mm", "drawing"}, ""},
		{"antenna", func(s *facts.Seat) {
			s.Keepouts = []facts.KeepRoom{{ID: "antenna", Antenna: true, Hit: &facts.Intrusion{Free: 4}}}
		}, "", nil, "4 mm over the board"},
		{"header", func(s *facts.Seat) {
			s.Headers = []facts.Reach{{ID: "J1", Access: "top", Hit: &[3]float64{1, 2, 9}}}
		}, "header-covered", []string{"J1", "9 mm"}, ""},
		{"port blocked", func(s *facts.Seat) {
			f := &s.Ports[0]
			f.Verdict, f.Blocked, f.Setback, f.MaySet, f.Opening.Left = facts.PortBlocked, 0.2, fp(3.4), 2, fp(3)
			s.Ports = append(s.Ports, *f)
			s.Ports[1].Other, s.Ports[1].Connector = true, "usb-a"
		}, "port-blocked", []string{"20 %", "12.35 x 6.5 mm", "10 mm wide", "3.4 mm", "2 mm"}, ""},
		{"port blocked, not required", func(s *facts.Seat) {
			s.Ports[0].Verdict, s.Ports[0].Required, s.Ports[0].Setback = facts.PortBlocked, false, fp(3)
		}, "port-covered", []string{"no source says"}, ""},
		{"port tight", func(s *facts.Seat) {
			f := &s.Ports[0]
			f.Verdict, f.Setback, f.MaySet, f.Strict, f.Blocked = facts.PortTight, fp(1.8), 2, 0.5, 0.1
		}, "port-tight", []string{"small plugs only", "1.8 mm", "2 mm", "0.5 mm"}, ""},
		{"port just passes", func(s *facts.Seat) { s.Ports[0].Verdict, s.Ports[0].Clearance = facts.PortTight, 0.1 }, "port-tight", []string{"0.1 mm", "0.2 mm a side"}, ""},
		{"receptacle in the wall", func(s *facts.Seat) { s.Ports[0].Verdict, s.Ports[0].Body = facts.PortBlocked, true }, "port-blocked", []string{"receptacle"}, ""},
		{"port unknown", func(s *facts.Seat) { s.Ports[0].Verdict, s.Ports[0].Missing = facts.PortUnknown, []string{"face"} }, "", nil, "face unknown"},
		{"alternative", func(s *facts.Seat) {
			f := s.Ports[0]
			f.Other, f.Verdict, f.Connector, f.Setback, f.Weak = true, facts.PortBlocked, "usb-a", fp(3), []string{"plug: from memory, no source"}
			s.Ports = append(s.Ports, f)
		}, "port-other", []string{"usb-a", "from memory"}, ""},
		{"plugs", func(s *facts.Seat) { s.Crowded = []facts.PlugPair{{A: "a", B: "b", Overlap: 2}} }, "plugs-crowded", []string{"2 mm"}, ""},
		{"typed and right", func(s *facts.Seat) { s.State = facts.SeatTyped }, "", nil, ""},
		{"typed and off: nothing else is said", func(s *facts.Seat) {
			s.State, s.Mounts[0].Met, s.Mounts[0].Off = facts.SeatTyped, false, fp(1.5)
			s.Inside, s.Ports[0].Verdict = true, facts.PortBlocked
			s.Found = &facts.Pose{At: [3]float64{0, 1.5, 8.6}}
		}, "seat-off", []string{"M1 is 1.5 mm off"}, ""},
		{"none", func(s *facts.Seat) {
			*s = facts.Seat{Variant: "a", Board: "board", Profile: "pc104", Part: "box", State: facts.SeatNone, Nearest: &facts.Misfit{Fit: 2, Of: 4, Mounts: []facts.SeatMount{{ID: "M3", Off: fp(3.5)}, {ID: "M4"}}}}
		}, "seat-missing", []string{"2 of 4", "3.5 mm"}, ""},
		{"mirrored", func(s *facts.Seat) {
			*s = facts.Seat{Variant: "a", Board: "board", Profile: "pc104", Part: "box", State: facts.SeatMirrored}
		}, "seat-mirrored", []string{"mirror image"}, ""},
		{"unknown figure", func(s *facts.Seat) { s.Missing = []string{"heights.top unknown"} }, "", nil, "heights.top unknown"},
		{"parts without a place", func(s *facts.Seat) { s.Unplaced = []string{"lid"} }, "", nil, "what lid leaves"},
	} {
		s := seated()
		c.spoil(&s)
		found, texts, open := judgeSeat(t, s)
		want := []string{}
		if c.want != "" {
			want = append(want, c.want)
		}
		if !slices.Equal(found, want) && len(found)+len(want) > 0 {
			t.Errorf("%s: found %q %q, want %q", c.name, found, texts, want)
		}
		for _, w := range c.says {
			if !strings.Contains(strings.Join(texts, "\n"), w) {
				t.Errorf("%s: %q does not say %q", c.name, texts, w)
			}
		}
		if c.open != "" && !strings.Contains(strings.Join(open, "\n"), c.open) {
			t.Errorf("%s: not checked %q, want %q", c.name, open, c.open)
		}
		if c.open == "" && len(open) > 0 {
			t.Errorf("%s: not checked %q", c.name, open)
		}
	}
}
