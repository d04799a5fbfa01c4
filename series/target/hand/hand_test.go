package hand

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dropwright/series/disk"
	"dropwright/series/disk/crash"
	"dropwright/series/target"
	"dropwright/series/target/targettest"
)

func TestConformance(t *testing.T) {
	targettest.Run(t, func(*testing.T) target.Target { return New(crash.New(), "/outbox", Limits{}) })
}

// bundle is a zip of n entries of 1000 bytes that do not compress.
func bundle(t testing.TB, n int) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range n {
		data := make([]byte, 1000)
		for j := range data {
			data[j] = byte(r.Uint32())
		}
		e, err := w.Create(fmt.Sprintf("vent-minder/part-%02d.stl", i))
		if err != nil {
			t.Fatal(err)
		}
		e.Write(data)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func post(t testing.TB) Post {
	return Post{
		Name:  "vent-minder-1.0.0-early",
		Title: "Vent Minder 1.0.0 for supporters",
		Files: []File{{"vent-minder-1.0.0-ce.zip", target.Text(bundle(t, 10))}, {"sheet.pdf", target.Text([]byte("a sheet"))}},
		Texts: []Text{{"announcement.txt", []byte("Dear all")}},
		Ticks: []string{"type: dropwright release confirm vent-minder early"},
	}
}

func TestLayOut(t *testing.T) {
	f := crash.New()
	h := New(f, "/outbox", Limits{})
	for range 2 {
		if err := h.LayOut(t.Context(), post(t)); err != nil {
			t.Fatal(err)
		}
	}
	got := slices.Sorted(maps.Keys(f.Tree()))
	want := []string{"TO-DO.txt", "announcement.txt", "files/sheet.pdf", "files/vent-minder-1.0.0-ce.zip"}
	for i := range want {
		want[i] = "outbox/vent-minder-1.0.0-early/" + want[i]
	}
	if !slices.Equal(got, want) {
		t.Errorf("laid out %v", got)
	}
	if !h.LaidOut(t.Context(), "vent-minder-1.0.0-early") || h.LaidOut(t.Context(), "other") {
		t.Error("what is laid out is not known")
	}
	other := post(t)
	other.Files[0].Content = target.Text([]byte("other bytes"))
	var conflict *target.Conflict
	if err := h.LayOut(t.Context(), other); !errors.As(err, &conflict) {
		t.Errorf("another post under the same name: %v", err)
	}
}

// TestVolumes splits a bundle and puts it together again, with archive/zip and with the unzip program.
func TestVolumes(t *testing.T) {
	root := t.TempDir()
	const limit = 3500
	h := New(disk.OS(), root, Limits{MaxFile: limit, MaxFiles: 3})
	p := post(t)
	if err := h.LayOut(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(root, p.Name)
	volumes, _ := filepath.Glob(filepath.Join(folder, "post-*", "*.zip"))
	if len(volumes) != 4 || filepath.Base(volumes[0]) != "vent-minder-1.0.0-ce-volume-1-of-4.zip" {
		t.Fatalf("volumes: %q", volumes)
	}
	want := entries(t, bundle(t, 10))
	got := map[string]string{}
	for _, name := range volumes {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > limit {
			t.Errorf("%s has %d bytes", name, len(data))
		}
		maps.Copy(got, entries(t, data))
	}
	if !maps.Equal(got, want) {
		t.Error("the volumes together are not the bundle")
	}
	posts, _ := filepath.Glob(filepath.Join(folder, "post-*-of-2"))
	if len(posts) != 2 {
		t.Errorf("posts: %q", posts)
	}
	list, _ := os.ReadFile(filepath.Join(folder, TodoName))
	for _, must := range []string{"vent-minder-1.0.0-ce comes in 4 volumes", "post-1-of-2/vent-minder-1.0.0-ce-volume-1-of-4.zip", "paste the text of announcement.txt", "release confirm"} {
		if !strings.Contains(string(list), must) {
			t.Errorf("the tick list lacks %q:\n%s", must, list)
		}
	}
	if _, err := exec.LookPath("unzip"); err != nil {
		if os.Getenv("DROPWRIGHT_CI") != "" {
			t.Fatal("no unzip")
		}
		t.Skip("SKIPPED: no unzip on this machine, the volumes were not tried with it")
	}
	out := t.TempDir()
	for _, name := range volumes {
		if text, err := exec.Command("unzip", "-q", name, "-d", out).CombinedOutput(); err != nil {
			t.Errorf("unzip %s: %v %s", name, err, text)
		}
	}
	for name, data := range want {
		if got, err := os.ReadFile(filepath.Join(out, name)); err != nil || string(got) != data {
			t.Errorf("unzipped %s differs, %v", name, err)
		}
	}
	damaged, _ := os.ReadFile(volumes[0])
	damaged[200] ^= 1
	bad := filepath.Join(out, "bad.zip")
	os.WriteFile(bad, damaged, 0o600)
	if exec.Command("unzip", "-tq", bad).Run() == nil {
		t.Error("unzip finds nothing wrong with a damaged volume")
	}
}

func entries(t testing.TB, data []byte) map[string]string {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, e := range r.File {
		f, err := e.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name] = string(text)
	}
	return out
}

func TestTooLarge(t *testing.T) {
	f := crash.New()
	for _, p := range []Post{
		{Name: "a", Files: []File{{"big.zip", target.Text(bundle(t, 2))}}},
		{Name: "b", Files: []File{{"big.pdf", target.Text(make([]byte, 900))}}},
	} {
		var large *TooLarge
		if err := New(f, "/outbox", Limits{MaxFile: 800}).LayOut(t.Context(), p); !errors.As(err, &large) {
			t.Errorf("%s: %v", p.Name, err)
		}
	}
	if err := New(f, "/outbox", Limits{MaxFile: 800}).LayOut(t.Context(), Post{Name: "c", Files: []File{{"no.zip", target.Text(make([]byte, 900))}}}); err == nil {
		t.Error("what is no zip is split")
	}
	if len(f.Tree()) != 0 {
		t.Errorf("something was laid out: %v", f.Tree())
	}
}
