package main

import (
	"context"
	"errors"
	"io"
	"path/filepath"

	"dropwright/series/config"
	"dropwright/series/disk"
	"dropwright/series/history"
	"dropwright/series/release"
	"dropwright/series/target"
	"dropwright/series/target/blob"
	"dropwright/series/target/dir"
	"dropwright/series/target/hand"
)

// places opens the channels of one kind; names, if any, choose among them.
func (a *app) places(s *season, rehearsal bool, names []string) ([]release.Channel, error) {
	if err := a.apart(s); err != nil {
		return nil, err
	}
	var out []release.Channel
	folders := map[string]string{}
	for _, c := range channelsOf(s, rehearsal, names) {
		for _, x := range s.Config.Channels {
			if string(x.Name.V) != c.Name {
				continue
			}
			p, folder, err := a.place(s, x)
			if err != nil {
				return nil, unreadable("write file:FOLDER, hand:FOLDER or s3://BUCKET", "%s: channel %s: %w", x.To.At, c.Name, err)
			}
			if other, taken := folders[folder]; folder != "" && taken {
				return nil, unreadable("give every channel a place of its own", "%s: the channels %s and %s have the same place", x.To.At, other, c.Name)
			}
			folders[folder] = c.Name
			p.Name, p.Audience, p.Rehearsal = c.Name, c.Audience, rehearsal
			out = append(out, p)
		}
	}
	return out, nil
}

// place opens one channel. folder is where it lies on this machine, "" for a store in the network.
func (a *app) place(s *season, c config.Channel) (p release.Channel, folder string, err error) {
	addr, err := target.ParseAddress(string(c.To.V))
	if err != nil {
		return p, "", err
	}
	folder = filepath.FromSlash(addr.Path)
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(s.dir, folder)
	}
	switch addr.Scheme {
	case "file":
		p.Target = dir.New(disk.OS(), "file", folder)
	case "hand":
		h := hand.New(disk.OS(), folder, hand.Limits{MaxFile: int64(c.MaxBytes.V), MaxFiles: int(c.MaxFiles.V)})
		p.Target, p.Post = h, poster{h}
	case "s3":
		b, err := blob.New(addr.Store, a.storeOptions(string(c.Audience.V)))
		if err != nil { // it fails its own drops only
			return release.Channel{Target: unserved{addr.String(), err}}, "", nil
		}
		return release.Channel{Target: b}, "", nil
	default:
		return release.Channel{Target: unserved{addr.String(), &target.Unsupported{Address: addr.String()}}}, "", nil
	}
	return p, folder, nil
}

// poster fits an outbox to package release.
type poster struct{ to *hand.Target }

func (p poster) LayOut(ctx context.Context, name, title string, files []release.File, texts []release.Text, ticks []string) error {
	post := hand.Post{Name: name, Title: title, Ticks: ticks}
	for _, f := range files {
		post.Files = append(post.Files, hand.File{Name: f.Name, Content: f.Content})
	}
	for _, t := range texts {
		post.Texts = append(post.Texts, hand.Text{Name: t.Name, Data: t.Data})
	}
	return p.to.LayOut(ctx, post)
}

// unserved is a place that cannot be reached from here: it can be planned for, not released to.
type unserved struct {
	address string
	why     error
}

func (u unserved) fail() error    { return u.why }
func (u unserved) String() string { return u.address }

func (u unserved) Stat(context.Context, string) (target.Info, error)    { return target.Info{}, u.fail() }
func (u unserved) Open(context.Context, string) (io.ReadCloser, error)  { return nil, u.fail() }
func (u unserved) Create(context.Context, string, target.Content) error { return u.fail() }
func (u unserved) Replace(context.Context, string, []byte) error        { return u.fail() }
func (u unserved) List(context.Context) ([]target.Info, error)          { return nil, u.fail() }
func (u unserved) Sweep(context.Context) error                          { return u.fail() }

// releaseError gives a failure of a release its exit status and way forward.
func releaseError(err error) error {
	var (
		refusal     *release.Refusal
		faulty      *release.Faulty
		uncommitted *release.Uncommitted
		unsound     *release.Unsound
		stranger    *target.Stranger
		conflict    *target.Conflict
		changed     *target.Changed
		unsupported *target.Unsupported
		noKeys      *blob.NoKeys
		overwrites  *blob.Unconditional
		damaged     *blob.Damaged
		large       *hand.TooLarge
		status      *statusError
	)
	switch {
	case errors.As(err, &status) || errors.Is(err, context.Canceled):
		return err
	case errors.As(err, &refusal):
		return refused(refusal.Hint, "%w", err)
	case errors.Is(err, history.ErrNoName):
		return refused("type git config --global user.name \"Your Name\" and git config --global user.email you@example.com", "%w", err)
	case errors.As(err, &faulty):
		return unreadable("dropwright check "+faulty.Design+" --all shows them with their places", "%w", err)
	case errors.As(err, &uncommitted):
		return refused("commit them (git add, git commit), or let dropwright do it: --commit", "%w", err)
	case errors.As(err, &unsound):
		hint := "dropwright ledger repair " + unsound.Problems[0].Channel + " --because \"…\" brings the place up to date; dropwright ledger verify lists every difference"
		for _, p := range unsound.Problems {
			if p.Foreign {
				hint = "what is out is never overwritten: move the files named away, then dropwright ledger repair " + p.Channel + " --because \"…\""
			}
		}
		return refused(hint, "%w", err)
	case errors.As(err, &stranger):
		return refused("nothing was written; look at the channel's `to` and `audience` in series.yaml", "%w", err)
	case errors.As(err, &conflict):
		return refused("look whose that file is; dropwright ledger verify compares the place with the ledger", "%w", err)
	case errors.As(err, &changed):
		return refused("run again: the bundle is made anew from its tag", "%w", err)
	case errors.As(err, &unsupported):
		return refused("choose other channels with --channel, or name a folder or an outbox in series.yaml", "%w", err)
	case errors.As(err, &noKeys):
		return refused(noKeys.Hint(), "%w", err)
	case errors.As(err, &overwrites):
		return refused(overwrites.Hint(), "%w", err)
	case errors.As(err, &damaged):
		return machine("look at the object with the store's own tools; if it is damaged, remove it there and run again", "%w", err)
	case errors.As(err, &large):
		return refused("raise max_file if the place takes more", "%w", err)
	}
	return machine("check the disk, the place and the permissions named above, then run again: it goes on where it stopped", "%w", err)
}
