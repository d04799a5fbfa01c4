package target

import (
	"errors"
	"strings"
	"testing"
)

func TestParseAddress(t *testing.T) {
	for to, want := range map[string]string{
		"file:../public":                 "file:../public",
		"file:///srv/drops":              "file:/srv/drops",
		"file:/srv/drops":                "file:/srv/drops",
		`file:C:\drops`:                  `file:C:\drops`,
		"hand:../outbox/supporters":      "hand:../outbox/supporters",
		"hand:50% off":                   "hand:50% off",
		"mem:x":                          "mem:x",
		"s3://drops?region=eu-west-1":    "s3://drops",
		"s3://drops/season?endpoint=a.b": "s3://drops/season",
	} {
		a, err := ParseAddress(to)
		if err != nil || a.String() != want {
			t.Errorf("%q: %q, %v", to, a, err)
		}
	}
	for _, to := range []string{"", "public", "../public", "file:", "file:/", "file:.", "file://server/share", "file:~/public", "hand:", "ftp://x", "s3:", "s3://", "s3://key:secret@drops", ":x", "file:a\x00b"} {
		a, err := ParseAddress(to)
		if err == nil {
			t.Errorf("%q is read as %q", to, a)
		} else if strings.Contains(err.Error(), "secret") {
			t.Errorf("%v tells the secret", err)
		}
	}
}

func TestTextIsCopiedAndChecked(t *testing.T) {
	c := Text([]byte("abc"))
	// FIPS 180-4's example "abc".
	if c.SHA256 != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" || c.Bytes != 3 {
		t.Errorf("%+v", c)
	}
	var out strings.Builder
	if err := c.Copy(t.Context(), &out); err != nil || out.String() != "abc" {
		t.Errorf("%q, %v", out.String(), err)
	}
	c.SHA256 = strings.Repeat("0", 64)
	var changed *Changed
	if err := c.Copy(t.Context(), &out); !errors.As(err, &changed) {
		t.Error(err)
	}
}

func FuzzParseAddress(f *testing.F) {
	f.Add("file:../public")
	f.Add("s3://drops?region=eu-west-1")
	f.Fuzz(func(t *testing.T, to string) {
		if a, err := ParseAddress(to); err == nil && a.Scheme == "" {
			t.Errorf("%q has no scheme", to)
		}
	})
}
