package main

import (
	"fmt"
	"strings"

	"dropwright/bundle/board"
	"dropwright/bundle/unit"
)

// boardTables are a profile's figures as tables, the head first; cells that begin with a tab are figures. Tables without
// rows are left out.
func boardTables(p *board.Profile) [][][]string {
	var out [][][]string
	section := func(head []string, body [][]string) {
		if len(body) > 0 {
			out = append(out, append([][]string{head}, body...))
		}
	}
	var list [][]string
	for _, m := range p.Mounts {
		list = append(list, []string{m.ID.S, "\t" + lengthOr(m.X), "\t" + lengthOr(m.Y), "\t" + lengthOr(m.Hole), orDash(m.Screw.S), "\t" + lengthOr(m.Land)})
	}
	section([]string{"mount", "x", "y", "hole", "screw", "land"}, list)
	list = nil
	for i := range p.Ports {
		for k, path := range p.Paths(&p.Ports[i]) {
			id, need := p.Ports[i].ID.S, ""
			if p.Ports[i].Required.On {
				need = "required"
			}
			if k > 0 {
				id, need = "  or", ""
			}
			plug := "?"
			if w, h := path.Plug.Size(); path.Plug.Round > 0 {
				plug = "Ø" + unit.Number(w)
			} else if path.Plug.Known() {
				plug = unit.Number(w) + " x " + unit.Number(h)
			}
			at := fmt.Sprintf("%s, %s, %s", unit.Number(path.Face[0]), unit.Number(path.Face[1]), unit.Number(path.Face[2]))
			note := strings.Join(path.Weak, "; ")
			if len(path.Missing) > 0 {
				at, note = "?", "not known: "+strings.Join(path.Missing, ", ")
			}
			list = append(list, []string{id, path.Family, p.Ports[i].Insertion.S, at, plug, need, note})
		}
	}
	section([]string{"port", "connector", "plug moves", "plug axis in the face", "largest plug", "", "known by"}, list)
	list = nil
	for i := range p.Headers {
		h := &p.Headers[i]
		var pins []string
		for _, e := range h.Pins {
			pins = append(pins, e.Key+" "+e.Value.S)
		}
		list = append(list, []string{h.ID.S, fmt.Sprintf("%s x %s", figureOr(h.Rows), figureOr(h.Columns)), "\t" + lengthOr(h.Pitch), orDash(h.Access.S), cut(strings.Join(pins, ", "), 90)})
	}
	section([]string{"header", "pins", "pitch", "access", "on its pins"}, list)
	list = nil
	for _, r := range p.Rails {
		volts := figureOr(r.Volts)
		if !r.Volts.Given && r.VoltsMin.Given {
			volts = figureOr(r.VoltsMin) + " to " + figureOr(r.VoltsMax)
		}
		if r.Role.S == "return" {
			list = append(list, []string{r.ID.S, r.Role.S, "", "", "", r.Where.S})
			continue
		}
		list = append(list, []string{r.ID.S, r.Role.S, "\t" + volts, "\t" + figureOr(r.Amps), "\t" + figureOr(r.Watts), r.Where.S})
	}
	section([]string{"rail", "role", "volts", "amps at most", "watts at least", "at"}, list)
	list = nil
	for _, k := range p.Keepouts {
		depth := "all the way"
		if k.Depth.Given {
			depth = lengthOr(k.Depth)
		}
		x0, y0, x1, y1, _ := k.Rect.Rect()
		list = append(list, []string{k.ID.S, k.Side.S, fmt.Sprintf("%s, %s to %s, %s", unit.Number(x0), unit.Number(y0), unit.Number(x1), unit.Number(y1)), depth, k.Reason.S + basisMark(p, k.Basis.Of("rect"), "keepouts")})
	}
	section([]string{"keep free", "side", "x, y", "depth", "why"}, list)
	return out
}
