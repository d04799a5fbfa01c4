package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"dropwright/bundle"
	"dropwright/bundle/archive"
	"dropwright/bundle/board"
	"dropwright/bundle/check"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/series/catalogue"
	"dropwright/series/release"
)

// builder makes bundles of the season's designs for package release.
type builder struct {
	a *app
	s *season
}

// Content is release.Builder's.
func (b *builder) Content(_ context.Context, name string, at fs.FS) (string, error) {
	return b.a.contentAt(b.s, name, at)
}

// Build is release.Builder's: both kinds of bundle are judged, and packed when they are written.
func (b *builder) Build(ctx context.Context, name string, at fs.FS, words []release.Word) (*release.Built, error) {
	house := &b.s.Config.House
	if at != nil { // the house as it was then: licence, maker, filaments
		old, err := catalogue.Open(at, b.s.Shown, board.Builtin())
		if err != nil {
			return nil, fmt.Errorf("reading %s as it was: %w", catalogue.SeriesFile, err)
		}
		if old.Config == nil {
			return nil, fmt.Errorf("%s as it was cannot be read", catalogue.SeriesFile)
		}
		house = &old.Config.House
	}
	e, err := b.a.loadAt(b.s, name, at)
	if err != nil {
		return nil, err
	}
	built := &release.Built{}
	if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
		built.Faults = faults(e.Findings)
		built.Revision = b.a.present(b.s)(name)
		return built, nil
	}
	past := check.Past{}
	if at == nil {
		past = b.a.past(b.s, name)
	}
	opt := measure.Options{Topics: measure.Topics{Estimate: true}, Progress: func(done, total int, file string) {
		b.a.ui.step("measuring %s: %d of %d: %s", name, done, total, file)
	}}
	w, err := bundle.Examine(bundle.Source{FS: e.FS, Manifest: e.Manifest, Design: e.Design, House: house}, past, "early", opt)
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", name, err)
	}
	public := check.Run(check.Input{Design: w.Design, Facts: w.Facts, House: house, Past: past, For: "public"})
	built.Revision, built.Content = e.Design.Revision().String(), w.Facts.Content
	built.Faults = faults(append(slices.Clone(w.Checked.Findings), public.Findings...))
	built.Files = append(built.Files, catalogue.SeriesFile, path.Join(catalogue.DesignsDir, name, catalogue.DesignFile))
	for _, f := range w.Facts.Files {
		if f.Named {
			built.Files = append(built.Files, path.Join(catalogue.DesignsDir, name, f.Path))
		}
	}
	w.Remarks = remarks(built.Faults, words)
	for _, audience := range []design.Audience{"early", "public"} {
		built.Bundles = append(built.Bundles, b.kind(w, audience))
	}
	return built, nil
}

// kind is one kind of bundle: a zip a variant, and the text of the announcement.
func (b *builder) kind(w *bundle.Work, audience design.Audience) release.Bundle {
	out := release.Bundle{Audience: string(audience)}
	for _, variant := range w.Design.VariantNames() {
		out.Items = append(out.Items, release.Item{
			Name: bundle.BundleName(w.Design, variant, audience) + ".zip",
			Write: func(ctx context.Context, to io.Writer) (string, error) {
				b.a.ui.step("packing %s", bundle.BundleName(w.Design, variant, audience))
				p, err := w.Pack(ctx, to, bundle.PackOptions{Variant: variant, Audience: audience, BoardTitle: boardTitle})
				var moved *archive.ChangedError
				if errors.As(err, &moved) {
					return "", &release.Refusal{Why: err.Error(), Hint: "wait until nothing writes to the design's folder, then run again"}
				}
				return p.Digest.String(), err
			},
		})
	}
	out.Items = append(out.Items, release.Item{Name: release.AnnouncementName, Write: func(_ context.Context, to io.Writer) (string, error) {
		text, err := announcement(w, audience)
		if err != nil {
			return "", err
		}
		_, err = to.Write(text)
		return "", err
	}})
	return out
}

// announcement is the text to post: what it is, the story, what changed. Markdown, as the maker wrote it.
func announcement(w *bundle.Work, audience design.Audience) ([]byte, error) {
	d := w.Design
	var t bytes.Buffer
	story := ""
	if d.Story.Set() {
		data, err := fs.ReadFile(w.FS, string(d.Story.V))
		if err != nil {
			return nil, err
		}
		story = strings.TrimSpace(strings.ReplaceAll(string(data), "\r\n", "\n"))
	}
	if !strings.HasPrefix(story, "# ") {
		fmt.Fprintf(&t, "# %s\n\n%s\n\n", d.Title.V, d.Summary.V)
	}
	if story != "" {
		fmt.Fprintf(&t, "%s\n\n", story)
	}
	fmt.Fprintf(&t, "Revision %s, licence %s.\n", d.Revision(), w.Licence(audience))
	if len(d.Changes) > 1 {
		t.WriteString("\nWhat changed:\n")
		for _, c := range d.Changes {
			fmt.Fprintf(&t, "- %s (%s): %s\n", c.Revision.V, c.Date.V, c.Text.V)
		}
	}
	for _, r := range w.Remarks {
		fmt.Fprintf(&t, "\nKnown: %s\n", r)
	}
	return t.Bytes(), nil
}

// faults are the findings of level error, each once.
func faults(found []finding.Finding) []release.Fault {
	var out []release.Fault
	for _, f := range found {
		x := release.Fault{Code: f.Code, Text: fmt.Sprintf("%s: %s", f.At, f.Text)}
		if f.Level == finding.Error && !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}

// remarks are the errors that the maker lets pass, as readers of the sheet are told.
func remarks(faults []release.Fault, words []release.Word) []string {
	var out []string
	for _, w := range words {
		for _, f := range faults {
			if f.Code != w.Code || !release.Passable(f.Code) {
				continue
			}
			_, text, _ := strings.Cut(f.Text, ": ")
			out = append(out, fmt.Sprintf("%s. The maker lets it pass: %s", strings.TrimSuffix(text, "."), w.Because))
		}
	}
	return out
}
