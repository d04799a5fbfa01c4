package bundle

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"dropwright/bundle/compare"
	"dropwright/templates"
)

// Drawn is a picture of a part that differs, as Differs made it.
type Drawn struct {
	SVG []byte
	Alt string
}

// differAccent is the colour of rules on the page of a comparison: that of what is marked in its pictures.
const differAccent = "#a84b1c"

// differPart is a row of the page.
type differPart struct {
	Name, Change, Reprint, Why, Volume, Deviation, Alt string
	Picture                                            template.URL
}

type differLine struct {
	List string
	compare.LineChange
}

// ComparePage writes what changed as one HTML page that needs nothing beside it; drawn holds the pictures in the order
// of the parts, an empty one for a part without.
func ComparePage(w io.Writer, d compare.Diff, drawn []Drawn) error {
	t, err := template.ParseFS(templates.FS, "compare/compare.html")
	if err != nil {
		return fmt.Errorf("reading the page's template: %w", err)
	}
	css, err := templates.FS.ReadFile("sheet/sheet.css")
	if err != nil {
		return fmt.Errorf("reading the page's style: %w", err)
	}
	level, why := compare.Level(d)
	page := struct {
		Diff            compare.Diff
		Style           template.CSS
		Accent          string
		Parts           []differPart
		Lists           []differLine
		Level, LevelWhy string
		Draft           []string
	}{Diff: d, Style: template.CSS(css), Accent: differAccent, Level: level, LevelWhy: why, Draft: compare.Draft(d)}
	for i, p := range d.Parts {
		row := differPart{Name: p.Part, Change: p.Change, Reprint: strings.ReplaceAll(p.Reprint, "-", " "), Why: p.Why}
		if p.Variant != "" {
			row.Name = p.Variant + ": " + p.Part
		}
		if p.Was != "" {
			row.Name += " (was " + p.Was + ")"
		}
		if p.Volume != nil {
			row.Volume = fmt.Sprintf("%.2f", p.Volume[1]/1000)
			if was := fmt.Sprintf("%.2f", p.Volume[0]/1000); was != row.Volume {
				row.Volume = was + " → " + row.Volume
			}
		}
		if p.Deviation != nil && *p.Deviation > 0 {
			row.Deviation = fmt.Sprintf("%.3f", *p.Deviation)
		}
		if i < len(drawn) && drawn[i].SVG != nil {
			row.Picture, row.Alt = template.URL("data:image/svg+xml;base64,"+base64.StdEncoding.EncodeToString(drawn[i].SVG)), drawn[i].Alt
		}
		page.Parts = append(page.Parts, row)
	}
	for _, l := range []struct {
		name string
		list []compare.LineChange
	}{{"variants", d.Variants}, {"fasteners", d.Fasteners}, {"bought parts", d.Bought}, {"wiring", d.Wiring}, {"settings", d.Settings}, {"steps", d.Steps}} {
		for _, c := range l.list {
			if c.Variant != "" {
				c.Name = c.Variant + ": " + c.Name
			}
			page.Lists = append(page.Lists, differLine{l.name, c})
		}
	}
	var b bytes.Buffer // so that nothing is written when the template fails
	if err := t.Execute(&b, page); err != nil {
		return fmt.Errorf("printing what changed: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}
