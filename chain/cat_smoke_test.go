package chain

import "testing"

func TestBuiltInCatalogueLoads(t *testing.T) {
	if _, err := DefaultCatalogue(); err != nil {
		t.Fatal(err)
	}
	_, err := ParseCatalogue("x.yaml", []byte("version: 1\nno_fault: 0.2\n"), nil)
	t.Log(err)
}
