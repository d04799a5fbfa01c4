package release

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"

	"dropwright/series/calendar"
	"dropwright/series/history"
	"dropwright/series/ledger"
	"dropwright/series/schedule"
	"dropwright/series/target"
)

// fix makes and keeps the bundles of a design's present revision, unless the ledger knows it already.
func (r *Runner) fix(ctx context.Context, a schedule.Action) error {
	if r.isFixed(a.Design, a.Revision) {
		return nil
	}
	built, err := r.Builder.Build(ctx, a.Design, nil, r.words(a.Design, a.Revision))
	if err != nil {
		return err
	}
	if built.Revision != a.Revision {
		return refuse("run again", "the manifest of %s says %s now, it said %s when the run began", a.Design, built.Revision, a.Revision)
	}
	words, err := r.judge(a.Design, built)
	if err != nil {
		return err
	}
	if err := r.committed(a, built); err != nil {
		return err
	}
	bundles, err := r.pack(ctx, built)
	if err != nil {
		return err
	}
	// What lies there must still be what was judged and what the tag will hold.
	content, err := r.Builder.Content(ctx, a.Design, nil)
	if err != nil {
		return err
	}
	if content != built.Content {
		return refuse("wait until nothing writes to the design's folder, then run again", "a file of %s changed while it was being packed", a.Design)
	}
	if err := r.clean(a.Design, built); err != nil {
		return err
	}
	digest := wholeDigest(bundles)
	frozen, err := r.Keeper.Freeze(history.Request{Design: a.Design, Revision: a.Revision, Files: built.Files, Digest: digest, Now: r.Now(), Sign: r.Sign})
	var taken *history.Taken
	if errors.As(err, &taken) {
		return &Refusal{taken.Error(), "what is fixed under a revision does not change: raise it with dropwright revise " + a.Design}
	} else if err != nil {
		return fmt.Errorf("keeping revision %s of %s: %w", a.Revision, a.Design, err)
	}
	if err := r.sameKept(ctx, a, built); err != nil {
		return err
	}
	if !frozen.Signed && frozen.Commit != "" {
		r.Say("%s is tagged, unsigned", frozen.Source)
	}
	return r.recordFixed(a, words, bundles, frozen.Source)
}

// sameKept makes sure that what was kept is what was packed: a file may have changed while it was copied. Git
// was compared with before; it may keep other line ends.
func (r *Runner) sameKept(ctx context.Context, a schedule.Action, built *Built) error {
	if _, folder := r.Keeper.(*history.Folder); !folder {
		return nil
	}
	at, err := r.Keeper.At(a.Design, a.Revision)
	if err != nil {
		return err
	}
	kept, err := r.Builder.Content(ctx, a.Design, at)
	if err != nil {
		return err
	}
	if kept != built.Content {
		return refuse("raise the revision with dropwright revise "+a.Design+", or remove the copy and run again", "the copy of %s %s in the folder %s is not what was packed: a file changed meanwhile", a.Design, a.Revision, history.FolderName)
	}
	return nil
}

// isFixed says whether both kinds of bundle of a revision are in the ledger.
func (r *Runner) isFixed(design, revision string) bool {
	for _, kind := range []string{calendar.Early, calendar.Public} {
		if _, ok := r.Ledger.BundleOf(design, revision, kind); !ok {
			return false
		}
	}
	return true
}

// words are the maker's words for a revision: those that the ledger keeps, then those given for this run.
func (r *Runner) words(design, revision string) []Word {
	var out []Word
	for _, e := range r.Ledger.Despites(design, revision) {
		out = append(out, Word{e.Code, e.Because})
	}
	for _, w := range r.Despite {
		if !r.isFixed(design, revision) && !slices.ContainsFunc(out, func(x Word) bool { return x.Code == w.Code }) {
			out = append(out, w)
		}
	}
	return out
}

// judge finds the maker's word for every error, or refuses.
func (r *Runner) judge(design string, built *Built) ([]Word, error) {
	var words []Word
	var left []Fault
	for _, f := range built.Faults {
		word := slices.IndexFunc(r.Despite, func(w Word) bool { return w.Code == f.Code })
		before := slices.IndexFunc(r.Ledger.Despites(design, built.Revision), func(e ledger.Entry) bool { return e.Code == f.Code })
		switch {
		case !Passable(f.Code) && word >= 0:
			return nil, refuse("mend it: dropwright check --why "+f.Code, "%s: %s cannot pass on anybody's word", design, f.Code)
		case !Passable(f.Code) || word < 0 && before < 0:
			left = append(left, f)
		case before < 0 && !slices.ContainsFunc(words, func(w Word) bool { return w.Code == f.Code }):
			words = append(words, r.Despite[word])
		}
	}
	if len(left) > 0 {
		return nil, &Faulty{design, left}
	}
	return words, nil
}

// committed makes sure that the files of a drop can be found again.
func (r *Runner) committed(a schedule.Action, built *Built) error {
	err := r.clean(a.Design, built)
	var u *Uncommitted
	if !errors.As(err, &u) || !r.Commit {
		return err
	}
	c, ok := r.Keeper.(Committer)
	if !ok {
		return err
	}
	id, err := c.Commit(built.Files, fmt.Sprintf("%s: release %s", a.Design, a.Revision), r.Now())
	if err != nil {
		return fmt.Errorf("committing the files of %s: %w", a.Design, err)
	}
	r.Say("committed the files of %s %s as %.12s", a.Design, a.Revision, id)
	return r.clean(a.Design, built)
}

func (r *Runner) clean(design string, built *Built) error {
	unclean, err := r.Keeper.Unclean(built.Files)
	if err != nil {
		return err
	}
	u := &Uncommitted{Design: design}
	for _, f := range unclean {
		u.Files = append(u.Files, f.Path+": "+f.Why)
	}
	if len(u.Files) > 0 {
		return u
	}
	return nil
}

// packed is a bundle in the store.
type packed struct {
	audience string
	objects  []ledger.Object
	digest   string
}

// pack puts every bundle into the store.
func (r *Runner) pack(ctx context.Context, built *Built) ([]packed, error) {
	var out []packed
	for _, b := range built.Bundles {
		p := packed{audience: b.Audience}
		digests := map[string]string{}
		for _, item := range b.Items {
			if err := target.CheckName(item.Name); err != nil {
				return nil, err
			}
			digest := ""
			sum, bytes, err := r.Store.Put(ctx, func(w io.Writer) (err error) {
				digest, err = item.Write(ctx, w)
				return err
			})
			if err != nil {
				return nil, fmt.Errorf("packing %s: %w", item.Name, err)
			}
			if digest == "" {
				digest = sum
			}
			digests[item.Name] = digest
			p.objects = append(p.objects, ledger.Object{Name: item.Name, SHA256: sum, Bytes: bytes})
		}
		p.digest = contentOf(digests)
		out = append(out, p)
	}
	return out, nil
}

// wholeDigest is the digest over every kind of bundle, for the tag.
func wholeDigest(bundles []packed) string {
	all := map[string]string{}
	for _, b := range bundles {
		all[b.audience] = b.digest
	}
	return contentOf(all)
}

// recordFixed writes down what was fixed: what passed despite an error, the promised dates, the bundles.
func (r *Runner) recordFixed(a schedule.Action, words []Word, bundles []packed, source string) error {
	for _, w := range words {
		if _, err := r.record(ledger.Record{Kind: ledger.Despite, Design: a.Design, Revision: a.Revision, Code: w.Code, Because: w.Because}); err != nil {
			return err
		}
	}
	if slot, ok := r.Calendar.SlotOf(a.Design); ok && len(r.Ledger.Dates(a.Design)) == 0 {
		p := ledger.Record{Kind: ledger.Promise, Design: a.Design, Week: slot.Week, Dates: schedule.Dates(slot)}
		if r.Ledger.UID(a.Design) == "" {
			p.UID = r.UID()
		}
		if _, err := r.record(p); err != nil {
			return err
		}
	}
	for _, b := range bundles {
		if old, ok := r.Ledger.BundleOf(a.Design, a.Revision, b.audience); ok {
			if old.Digest == b.digest {
				continue
			}
			return refuse("raise the revision with dropwright revise "+a.Design, "%s %s is fixed for %s with other content", a.Design, a.Revision, b.audience)
		}
		x := ledger.Record{Kind: ledger.Bundle, Design: a.Design, Revision: a.Revision, Audience: b.audience, Objects: b.objects, Digest: b.digest, Tool: r.Tool, Go: r.Go, Source: source}
		if _, err := r.record(x); err != nil {
			return err
		}
	}
	return nil
}

// contents gives the bytes of a fixed bundle, made again from history where the store has lost them.
func (r *Runner) contents(ctx context.Context, fixed ledger.Entry) ([]File, error) {
	files, err := r.stored(ctx, fixed)
	var lost *Lost
	if !errors.As(err, &lost) {
		return files, err
	}
	r.Say("%s: it is made again from %s", lost, fixed.Source)
	again, err := r.rebuild(ctx, fixed)
	if err != nil {
		return nil, err
	}
	return r.stored(ctx, again)
}

func (r *Runner) stored(ctx context.Context, fixed ledger.Entry) ([]File, error) {
	var files []File
	for _, o := range fixed.Objects {
		c, err := r.Store.Content(ctx, o.Name, o.SHA256, o.Bytes)
		if err != nil {
			return nil, err
		}
		files = append(files, File{o.Name, c})
	}
	return files, nil
}

// rebuild packs a fixed revision again from history. The content must be the same; where another version of
// the program compresses it differently, the new bytes are recorded.
func (r *Runner) rebuild(ctx context.Context, fixed ledger.Entry) (ledger.Entry, error) {
	built, err := r.again(ctx, fixed.Design, fixed.Revision)
	if err != nil {
		return fixed, err
	}
	bundles, err := r.pack(ctx, built)
	if err != nil {
		return fixed, err
	}
	for _, b := range bundles {
		if b.audience != fixed.Audience {
			continue
		}
		if b.digest != fixed.Digest || built.Revision != fixed.Revision {
			break
		}
		if slices.Equal(b.objects, fixed.Objects) {
			return fixed, nil
		}
		x := fixed.Record
		x.Objects, x.Tool, x.Go = b.objects, r.Tool, r.Go
		return r.record(x)
	}
	return fixed, refuse("restore the store from a backup, or release a new revision; if the bundles were signed, give the same --sign", "%s %s made again from %s has another content than the one that was fixed", fixed.Design, fixed.Revision, fixed.Source)
}

// again reads a revision from history, or, on a machine that has no history of it, from the folder if that
// still holds the revision. Whoever calls compares the digests.
func (r *Runner) again(ctx context.Context, design, revision string) (*Built, error) {
	at, err := r.Keeper.At(design, revision)
	missing := errors.Is(err, fs.ErrNotExist)
	if err != nil && !missing {
		return nil, err
	}
	built, err := r.Builder.Build(ctx, design, at, r.words(design, revision))
	if err != nil {
		return nil, err
	}
	if built.Revision != revision {
		if missing {
			return nil, refuse("restore the store or the tag from a backup, or release a new revision", "the bundles of %s %s are lost from the store, and history does not hold the revision", design, revision)
		}
		return nil, refuse("restore the store from a backup, or release a new revision", "history holds %s %s under %s", design, built.Revision, revision)
	}
	return built, nil
}

// refix enters the bundles of a revision that the ledger has forgotten, because it was restored from an older
// copy: they are made from history and must have the digest of the tag.
func (r *Runner) refix(ctx context.Context, a schedule.Action) error {
	built, err := r.again(ctx, a.Design, a.Revision)
	if err != nil {
		return err
	}
	bundles, err := r.pack(ctx, built)
	if err != nil {
		return err
	}
	frozen, err := r.Keeper.Freeze(history.Request{Design: a.Design, Revision: a.Revision, Files: built.Files, Digest: wholeDigest(bundles), Now: r.Now(), Sign: r.Sign})
	var taken *history.Taken
	if errors.As(err, &taken) {
		return &Refusal{taken.Error(), "restore the store and the ledger from a backup, or release a new revision"}
	} else if err != nil {
		return err
	}
	return r.recordFixed(a, nil, bundles, frozen.Source)
}
