package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/facts"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
)

func (a *app) boardSeatsCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "seats [DESIGN|WEEK]...",
		Short: "say where boards sit in their parts, and what their plugs meet",
		Long: `Measures the parts that boards sit in and prints what check judges: where the mounts meet the holes
and how well, the gap on every side, the room over and under the board, and for each port the plug's
section, its clearance and the opening found.`,
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.boardSeats(args) },
	}
	a.formatFlag(cmd, "text", "json")
	a.variantFlag(cmd)
	return cmd
}

// seatsOf is what boards seats prints of one design.
type seatsOf struct {
	Design string       `json:"design"`
	Seats  []facts.Seat `json:"seats"`
}

func (a *app) boardSeats(words []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	names, err := a.choose(s, words, true)
	if err != nil {
		return err
	}
	out := []seatsOf{}
	for _, n := range names {
		e, w, err := a.examine(s, n, "", measure.Topics{})
		if err != nil {
			return err
		}
		if w == nil {
			return unreadable("`dropwright check "+n+"` says where", "the manifest of %s cannot be read as meant", n)
		}
		if w.Facts.Boards == nil {
			continue
		}
		if _, err := a.variants(e.Design); err != nil {
			return err
		}
		one := seatsOf{Design: n, Seats: []facts.Seat{}}
		for _, x := range w.Facts.Boards.Seats {
			if a.variant == "" || a.variant == x.Variant {
				one.Seats = append(one.Seats, x)
			}
		}
		if len(one.Seats) > 0 {
			out = append(out, one)
		}
	}
	if a.format == "json" {
		return a.asJSON(out)
	}
	first := true
	for _, d := range out {
		for i := range d.Seats {
			if !first {
				fmt.Fprintln(a.stdout)
			}
			first = false
			a.seatText(d.Design, &d.Seats[i])
		}
	}
	if first {
		fmt.Fprintln(a.stdout, "no board sits in any part")
	}
	return nil
}

// freeWay prints a way that may be open.
func freeWay(v *float64) string {
	if v == nil {
		return "open"
	}
	return unit.Number(*v)
}

func (a *app) seatText(design string, s *facts.Seat) {
	w := a.stdout
	fmt.Fprintf(w, "%s %s: %s (%s) in %s: ", design, s.Variant, s.Board, s.Profile, s.Part)
	switch s.State {
	case facts.SeatUnknown:
		fmt.Fprintf(w, "not known: %s\n", strings.Join(s.Missing, "; "))
		return
	case facts.SeatNone:
		fmt.Fprintln(w, "no holes fit its mounts")
		if n := s.Nearest; n != nil {
			for _, m := range n.Mounts {
				fmt.Fprintf(w, "  nearest to %s: %s mm off\n", m.ID, freeWay(m.Off))
			}
		}
		return
	case facts.SeatMirrored:
		fmt.Fprintln(w, "the part is the mirror image of what it needs")
		return
	case facts.SeatTyped:
		fmt.Fprint(w, "written in the manifest, ")
	case facts.SeatFound:
		fmt.Fprint(w, "found by its holes, ")
	}
	fmt.Fprintf(w, "at %s, %s, %s, turned %s°, component side %s, residual %s mm\n", unit.Number(s.At[0]), unit.Number(s.At[1]), unit.Number(s.At[2]), unit.Number(s.Turn), s.Face, unit.Number(s.Residual))
	for _, o := range s.Others {
		fmt.Fprintf(w, "  it fits as well at %s, %s, %s, turned %s°\n", unit.Number(o.At[0]), unit.Number(o.At[1]), unit.Number(o.At[2]), unit.Number(o.Turn))
	}
	if s.Turned {
		fmt.Fprintln(w, "  turned by 180° it would fit the cavity too, but not the holes")
	}
	var sides []string
	for _, x := range s.Sides {
		sides = append(sides, x.Side+" "+freeWay(x.Free))
	}
	if s.Gap != nil {
		fmt.Fprintf(w, "  gap, mm: %s; smallest %s, wanted %s\n", strings.Join(sides, ", "), unit.Number(*s.Gap), unit.Number(s.NeedGap))
	}
	room := func(r *facts.Room, word string) {
		if r != nil {
			fmt.Fprintf(w, "  %s it, mm: free %s, parts may need %s\n", word, freeWay(r.Free), strings.Replace(freeWay(r.Limit), "open", "an unknown height", 1))
		}
	}
	room(s.Above, "over")
	room(s.Below, "under")
	if len(s.Ports) > 0 {
		rows := [][]string{{"  port", "connector", "verdict", "plug, mm", "clearance", "left", "right", "down", "up"}}
		for _, f := range s.Ports {
			id, plug := "  "+f.ID, unit.Number(f.Plug[0])+" x "+unit.Number(f.Plug[1])
			if f.Other {
				id = "    or"
			}
			if f.Round {
				plug = "Ø" + unit.Number(f.Plug[0])
			}
			if f.Verdict == facts.PortUnknown {
				rows = append(rows, []string{id, f.Connector, "not checked: " + strings.Join(f.Missing, ", ") + " unknown"})
				continue
			}
			rows = append(rows, []string{id, f.Connector, f.Verdict, plug, "\t" + unit.Number(f.Clearance), "\t" + freeWay(f.Travel[0]), "\t" + freeWay(f.Travel[1]), "\t" + freeWay(f.Travel[2]), "\t" + freeWay(f.Travel[3])})
		}
		a.ui.table(rows)
	}
	for _, m := range s.Missing {
		fmt.Fprintf(w, "  not checked: %s\n", m)
	}
	if len(s.Unplaced) > 0 {
		fmt.Fprintf(w, "  measured against %s; no `place` says where %s sit\n", strings.Join(append([]string{s.Part}, s.OtherPart...), ", "), strings.Join(s.Unplaced, ", "))
	}
}
