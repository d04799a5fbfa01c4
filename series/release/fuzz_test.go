package release

import (
	"encoding/json"
	"testing"

	"dropwright/series/ledger"
)

// FuzzIndex reads an index as somebody else may have written it: it is refused or means what it says.
func FuzzIndex(f *testing.F) {
	w := undisturbed(f, newWorld, short)
	f.Add([]byte(w.file("/place/club/release.json")))
	f.Add([]byte(w.file("/place/shelf/release.json")))
	f.Add([]byte(`{"format":1,"series":"tools","audience":"early","ledger":{"seq":0,"sum":""},"releases":[{"design":"../x","revision":"1.0.0"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := parseIndex(data)
		if err != nil {
			return
		}
		again, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := parseIndex(again); err != nil {
			t.Fatalf("written again it is refused: %v", err)
		}
	})
}

func TestIndexRefuses(t *testing.T) {
	for _, text := range []string{
		``, `{}`, `{"format":2,"releases":[]}`, `{"format":1}{}`, `{"format":1,"more":1}`,
		`{"format":1,"releases":[{"design":"../x","revision":"1.0.0"}]}`,
		`{"format":1,"releases":[{"design":"x","revision":"1.0"}]}`,
		`{"format":1,"releases":[{"design":"x","revision":"1.0.0","objects":[{"name":"../y","sha256":"","bytes":1}]}]}`,
	} {
		if _, err := parseIndex([]byte(text)); err == nil {
			t.Errorf("%s is accepted", text)
		}
	}
	good, err := json.Marshal(Index{Format: 1, Releases: []Release{{Design: "x", Revision: "1.0.0", Objects: []ledger.Object{{Name: "x.zip", SHA256: string(make64()), Bytes: 1}}}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseIndex(good); err != nil {
		t.Error(err)
	}
}

func make64() []byte {
	b := make([]byte, 64)
	for i := range b {
		b[i] = 'a'
	}
	return b
}
