package adopt

import (
	"strings"

	"dropwright/bundle/finding"
)

// wish is the print settings that a text asks for; "" is not said. The values are as a manifest writes them.
type wish struct {
	layer, infill, walls, supports, material string
	at                                       finding.Place
}

func (w wish) empty() bool {
	return w.layer == "" && w.infill == "" && w.walls == "" && w.supports == ""
}

// over is w with what it leaves out taken from base.
func (w wish) over(base wish) wish {
	out := w
	for _, p := range []struct{ to, from *string }{{&out.layer, &base.layer}, {&out.infill, &base.infill}, {&out.walls, &base.walls}, {&out.supports, &base.supports}, {&out.material, &base.material}} {
		if *p.to == "" {
			*p.to = *p.from
		}
	}
	if !out.at.Known() {
		out.at = base.at
	}
	return out
}

var (
	layerProse    = lazily(`(?i)(?:\blayers?(?:\s*height)?\s*(?:of|[:=])?\s*(0[.,]\d{1,2})\s*(?:mm)?|\b(0[.,]\d{1,2})\s*(?:mm)?\s*layers?)`)
	infillProse   = lazily(`(?i)(?:\b(\d{1,3})\s*%\s*(?:\w+\s+)?(?:in-?fill|fill)|\b(?:in-?fill|fill)\s*(?:of|[:=(]|density)?\s*(\d{1,3})\s*%)`)
	solidProse    = lazily(`(?i)\b(?:print(?:ed)?\s+(?:(?:it|them|this|these)\s+)?solid|solid\s+infill|fully\s+solid|100\s*%)`)
	wallsProse    = lazily(`(?i)(?:\b(\d{1,2}|` + numberWords + `)\s+(?:walls?|perimeters?|wall lines?|shells|outlines)|\b(?:walls?|perimeters?|wall lines?)\s*(?:[:=]|of)?\s*(\d{1,2})\b)`)
	noSupports    = lazily(`(?i)\b(?:no|without|not need|don'?t need|needs? no|free of|none)\s+(?:any\s+)?supports?\b|\b(?:nothing|none(?: of \w+(?: \w+)?)?|no part|neither)\s+(?:here )?needs?\s+(?:any\s+)?supports?\b|\bsupports?\s*[:=]?\s*(?:none|no|off|not needed|not required|0)\b|\bsupport[- ]free\b`)
	needsSupports = lazily(`(?i)\b(?:needs?|with|requires?|enable|print with|use)\s+supports?\b|\bsupports?\s*[:=]?\s*(?:yes|on|needed|required|everywhere|tree)\b`)
	materialProse = lazily(`\b(PLA|PETG|ABS|ASA|TPU|PC|PA|Nylon)\b`)
)

// prose reads the settings that a sentence names.
func (w *wish) prose(s string) {
	first := func(shape *pattern) string {
		m := shape.FindStringSubmatch(s)
		for i := 1; i < len(m); i++ {
			if m[i] != "" {
				return m[i]
			}
		}
		return ""
	}
	if v := first(layerProse); v != "" && w.layer == "" {
		w.set("layer", v)
	}
	if v := first(infillProse); v != "" && w.infill == "" {
		w.set("infill", v+"%")
	} else if w.infill == "" && solidProse.MatchString(s) {
		w.set("infill", "100%")
	}
	if v := first(wallsProse); v != "" && w.walls == "" {
		w.set("walls", v)
	}
	if w.supports == "" {
		switch {
		case noSupports.MatchString(s):
			w.supports = "none"
		case needsSupports.MatchString(s):
			w.supports = "needed"
		}
	}
	if v := materialProse.FindString(s); v != "" && w.material == "" {
		w.material = v
	}
}

var shareShape = lazily(`^~?\s*(\d{1,3}(?:[.,]\d+)?)\s*%?`)

// set takes a cell over when it is a setting that a manifest can hold.
func (w *wish) set(key, c string) {
	c = strings.TrimSpace(strings.ToLower(c))
	switch key {
	case "layer":
		if v, ok := number(strings.TrimSpace(strings.TrimSuffix(c, "mm"))); ok && v >= 0.04 && v <= 1.2 {
			w.layer = figureText(v)
		}
	case "infill":
		if m := shareShape.FindStringSubmatch(c); m != nil {
			v, ok := number(m[1])
			if ok && v < 1 && v > 0 && !strings.Contains(c, "%") {
				v *= 100 // spreadsheets keep 15 % as 0.15
			}
			if ok && v >= 0 && v <= 100 {
				w.infill = figureText(v) + " %"
			}
		} else if c == "solid" || c == "full" {
			w.infill = "100 %"
		}
	case "walls":
		if v, ok := number(c); ok && v >= 1 && v <= 20 && v == float64(int(v)) {
			w.walls = figureText(v)
		}
	case "supports":
		switch {
		case c == "no" || c == "none" || c == "n" || c == "-" || c == "off" || strings.HasPrefix(c, "not ") || strings.HasPrefix(c, "no "):
			w.supports = "none"
		case c == "yes" || c == "y" || c == "needed" || c == "on" || c == "required" || strings.HasPrefix(c, "yes"):
			w.supports = "needed"
		}
	}
}

// settingTable reads a table of settings: name and value, one a row.
func (r *reader) settingTable(t *table, l layout) {
	for _, row := range append([]row{{t.line, t.head}}, t.rows...) {
		if len(row.cells) < 2 {
			continue
		}
		w := wish{at: finding.Place{File: t.file, Line: row.line, Column: 1}}
		switch k, _ := columnOf(row.cell(0)); k {
		case layerColumn:
			w.set("layer", row.cell(1))
		case infillColumn:
			w.set("infill", row.cell(1))
		case wallsColumn:
			w.set("walls", row.cell(1))
		case supportsColumn:
			w.set("supports", row.cell(1))
		case materialColumn:
			w.material = materialProse.FindString(row.cell(1))
		}
		r.about.print = r.about.print.over(w)
	}
}
