# Sourced by scripts/virtual-bench: the initramfs, which is all the disk the
# machine has. Two archives one after the other, as the kernel allows: the
# drivers, which are kept between runs, and what is under test.

# pack FOLDER ARCHIVE
pack() {
	(cd "$1" && find . -mindepth 1 | LC_ALL=C sort | cpio -o -H newc --quiet -R 0:0) >"$2"
}

# build_base sets base, the archive with busybox and the modules, and missing,
# the names of the modules that this kernel does not have.
build_base() {
	local busybox key root verb name rest list
	busybox=$(static_busybox)
	key=$(cat "$here/modules" "$here/image.sh" "$busybox" | sha256sum | cut -c1-16)
	base=$kernel/base-$key.cpio
	if [[ -e $base ]]; then
		mapfile -t missing <"$base.missing"
		return
	fi

	root=$work/base
	mkdir -p "$root/bin" "$root/vbench"
	cp "$busybox" "$root/bin/busybox"
	: >"$root/vbench/missing"
	while read -r verb name rest; do
		[[ $verb == load || $verb == ship ]] || continue
		if ! list=$(modprobe -S "$release" -d "$kernel" --show-depends "$name" 2>/dev/null); then
			printf '%s\n' "$name" >>"$root/vbench/missing"
			continue
		fi
		add_modules "$root" <<<"$list"
	done <"$here/modules"
	cp "$kernel/lib/modules/$release"/modules.{builtin,order} "$root/lib/modules/$release/"
	depmod -b "$root" "$release" 2>/dev/null
	pack "$root" "$work/base.cpio"
	cp "$root/vbench/missing" "$base.missing"
	mv "$work/base.cpio" "$base"
	mapfile -t missing <"$base.missing"
	rm -rf "$root"
}

# add_modules ROOT copies the modules of a modprobe listing, unpacked, since
# busybox cannot load compressed ones.
add_modules() {
	local verb path rest to
	while read -r verb path rest; do
		[[ $verb == insmod ]] || continue
		to=$1/lib/modules/$release/${path##*/modules/"$release"/}
		mkdir -p "${to%/*}"
		case $path in
		*.xz) xz -dc "$path" >"${to%.xz}" ;;
		*.zst) zstd -qdc "$path" >"${to%.zst}" ;;
		*) cp "$path" "$to" ;;
		esac
	done
}

# test_names DIR prints a pattern for the tests that the virtual bench files
# of DIR declare; the package's other tests run outside, where they are fast.
test_names() {
	sed -n 's/^func \(Test[A-Za-z0-9_]*\)(.*/\1/p' "$1"/*_vbench_test.go | paste -sd'|' -
}

build_image() {
	local root=$work/root file dir name run
	build_base
	mkdir -p "$root/vbench/bin"
	cp "$here/init" "$root/init"
	cp "$here/modules" "$root/vbench/modules"
	# The test's own limit fires first and says which test hung.
	echo $((limit * 2 / 3 + 1)) >"$root/vbench/limit"
	[[ $shell ]] && touch "$root/vbench/shell"
	: >"$root/vbench/tests"

	export CGO_ENABLED=0 GOOS=linux GOARCH=amd64
	cd "$repo"
	unbuilt=()
	go build -trimpath -ldflags='-s -w' -o "$root/vbench/bin/deadhop" ./cmd/deadhop || unbuilt+=(cmd/deadhop)
	while read -r dir; do
		dir=${dir#./}
		name=${dir//\//-}
		go test -c -tags vbench -ldflags='-s -w' -o "$root/vbench/bin/$name.test" "./$dir" || {
			unbuilt+=("$dir")
			continue
		}
		run=${only:-^($(test_names "$dir"))\$}
		printf '%s\t%s\t%s\n' "$name" "$dir" "$run" >>"$root/vbench/tests"
		mkdir -p "$root/vbench/src/$dir"
	done < <(find . -name '*_vbench_test.go' -not -path './.git/*' -printf '%h\n' | LC_ALL=C sort -u)
	find . -type d -name testdata -not -path './.git/*' -prune -print |
		while read -r dir; do
			mkdir -p "$root/vbench/src/${dir%/*}"
			cp -r "$dir" "$root/vbench/src/${dir%/*}/"
		done
	cd - >/dev/null

	pack "$root" "$work/tests.cpio"
	cat "$base" "$work/tests.cpio" >"$work/initrd"
}
