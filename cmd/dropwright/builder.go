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
	"dropwright/series/catalogue"
	"dropwright/series/ledger"
	"dropwright/series/release"
	"dropwright/series/schedule"
)

// builder makes bundles of the season's designs for package release.
type builder struct {
	a   *app
	s   *season
	log *ledger.Log // what was promised
	key *signing    // nil: unsigned
}

// Content is release.Builder's.
func (b *builder) Content(_ context.Context, name string, at fs.FS) (string, error) {
	return b.a.contentAt(b.s, name, at)
}

// Build is release.Builder's: both kinds of bundle are judged, and packed when they are written.
func (b *builder) Build(ctx context.Context, name string, at fs.FS, words []release.Word) (*release.Built, error) {
	src, err := b.source(at)
	if err != nil {
		return nil, err
	}
	e, w, err := b.a.examine(src, name, "early", bundle.PackTopics)
	if err != nil {
		return nil, err
	}
	built := &release.Built{}
	if w == nil {
		built.Faults = faults(e.Findings)
		built.Revision = b.a.present(src)(name)
		return built, nil
	}
	built.Revision, built.Content = e.Design.Revision().String(), w.Facts.Content
	built.Faults = b.a.faultsOf(src, e, w)
	built.Files = b.files(src, name, w)
	w.Remarks = remarks(built.Faults, words)
	b.a.since(src, w)
	for _, audience := range []design.Audience{"early", "public"} {
		built.Bundles = append(built.Bundles, b.kind(src, w, audience))
	}
	return built, nil
}

// source is the season as it lies there, or as history keeps it: then nothing came before it.
func (b *builder) source(at fs.FS) (*season, error) {
	src := *b.s
	src.goesOut = true
	if at == nil {
		return &src, nil
	}
	old, err := catalogue.Open(at, b.s.Shown, board.Builtin())
	if err != nil {
		return nil, fmt.Errorf("reading %s as it was: %w", catalogue.SeriesFile, err)
	}
	if old.Config == nil {
		return nil, fmt.Errorf("%s as it was cannot be read", catalogue.SeriesFile)
	}
	src.Series, src.fixed = old, map[string]check.Past{}
	return &src, nil
}

// files are what the bundles of a design are made from, by their paths from the series' folder.
func (b *builder) files(src *season, name string, w *bundle.Work) []string {
	out := []string{catalogue.SeriesFile, path.Join(catalogue.DesignsDir, name, catalogue.DesignFile)}
	for _, f := range w.Facts.Files {
		if f.Named {
			out = append(out, path.Join(catalogue.DesignsDir, name, f.Path))
		}
	}
	if l := logo(src.Series); l != "" {
		out = append(out, l)
	}
	licences, err := fs.Glob(src.FS, "LICENSES/*.txt")
	if err == nil { // the pattern is right: no error can come
		out = append(out, licences...)
	}
	return out
}

// kind is one kind of bundle: a zip a variant, and the text of the announcement.
func (b *builder) kind(src *season, w *bundle.Work, audience design.Audience) release.Bundle {
	out := release.Bundle{Audience: string(audience)}
	for _, variant := range w.Design.VariantNames() {
		out.Items = append(out.Items, release.Item{
			Name: bundle.BundleName(w.Design, variant, audience) + ".zip",
			Write: func(ctx context.Context, to io.Writer) (string, error) {
				b.a.ui.step("packing %s", bundle.BundleName(w.Design, variant, audience))
				o := bundle.PackOptions{Variant: variant, Audience: audience, BoardTitle: boardTitle, Licence: licenceTexts(src.FS)}
				b.key.into(&o)
				p, err := w.Pack(ctx, to, o)
				return p.Digest.String(), b.packing(w.Design.Folder, p, err)
			},
		})
	}
	out.Items = append(out.Items, release.Item{Name: release.AnnouncementName, Write: func(_ context.Context, to io.Writer) (string, error) {
		text, err := b.textToPost(src, w, audience)
		if err != nil {
			return "", err
		}
		_, err = to.Write(text)
		return "", err
	}})
	return out
}

// packing gives a failure to pack its way forward.
func (b *builder) packing(name string, p bundle.Packed, err error) error {
	var private *bundle.PrivateError
	var names *archive.Problems
	var moved *archive.ChangedError
	switch {
	case errors.As(err, &private):
		for _, l := range private.Leaks {
			b.a.ui.say("  %s: a %s: %s%s", l.Where, l.Kind, l.What, quoted(l.Text))
		}
		return unreadable("dropwright bundle "+name+" shows the same and says what to do", "%w", err)
	case errors.As(err, &names):
		return unreadable("rename what is named here", "%w", err)
	case errors.As(err, &moved):
		return &release.Refusal{Why: err.Error(), Hint: "wait until nothing writes to the design's folder, then run again"}
	case err != nil:
		return err
	}
	for _, u := range p.Unread {
		b.a.ui.say("not looked into for private data: %s", u)
	}
	return nil
}

// textToPost is the announcement as plain text.
func (b *builder) textToPost(src *season, w *bundle.Work, audience design.Audience) ([]byte, error) {
	cal, _ := schedule.CalendarOf(src.Config)
	text := textOf(w, audience, cal, b.log)
	if len(text.Unknown) > 0 {
		b.a.ui.say("note: the story of %s holds placeholders that nothing is known for: %s", w.Design.Folder, strings.Join(text.Unknown, ", "))
	}
	var t bytes.Buffer
	if err := text.Text(&t); err != nil {
		return nil, err
	}
	return t.Bytes(), nil
}

// faultsOf are the errors of a design that was examined for the early audience, with those of the public bundle.
func (a *app) faultsOf(s *season, e *catalogue.Entry, w *bundle.Work) []release.Fault {
	public := check.Run(check.Input{Design: w.Design, Facts: w.Facts, House: w.House, Past: a.before(s, e), For: "public"})
	return faults(slices.Concat(e.Findings, w.Checked.Findings, public.Findings))
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
