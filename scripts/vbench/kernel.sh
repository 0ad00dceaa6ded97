# Sourced by scripts/virtual-bench: a Debian kernel, downloaded and unpacked
# but never installed. Sets kernel (a folder with boot/ and lib/modules/) and
# release.

# kernel_package prints the newest kernel image package and its version.
kernel_package() {
	local package version
	package=$(apt-cache depends linux-image-amd64 2>/dev/null |
		sed -n 's/^ *Depends: \(linux-image-[0-9][^ ]*\)$/\1/p' | head -n 1)
	[[ $package ]] || return 1
	version=$(apt-cache policy "$package" | sed -n 's/^ *Candidate: //p')
	[[ $version && $version != "(none)" ]] || return 1
	printf '%s %s\n' "$package" "$version"
}

# newest_cached prints the newest kernel that was unpacked before.
newest_cached() {
	local found
	found=$(cd "$cache" && ls -d linux-image-*/.complete 2>/dev/null | sort -V | tail -n 1)
	[[ $found ]] && printf '%s\n' "$cache/${found%/.complete}"
}

# download_kernel PACKAGE FOLDER
download_kernel() {
	local download=$work/download as=()
	mkdir "$download"
	# Root's apt drops to a user who cannot write here, and complains.
	((EUID == 0)) && as=(-o APT::Sandbox::User=root)
	say "downloading the kernel package $1 (about 70 MB, once)"
	(cd "$download" && apt-get "${as[@]}" -qq download "$1" >&2) || return 1
	mkdir "$download/tree"
	dpkg-deb -x "$download"/*.deb "$download/tree" || return 1
	# From Debian 13 on the modules are under /usr.
	[[ -d $download/tree/lib ]] || ln -s usr/lib "$download/tree/lib"
	release=$(cd "$download/tree/lib/modules" && echo *)
	# The package has no module index; dpkg would make it at installation.
	depmod -b "$download/tree" "$release" || return 1
	touch "$download/tree/.complete"
	rm -rf "$2"
	mv "$download/tree" "$2"
	rm -rf "$download"
}

find_kernel() {
	local found package version
	if ! found=$(kernel_package) && ((EUID == 0)); then
		say "apt knows no linux-image-amd64; running apt-get update"
		apt-get -qq update >&2 || true
		found=$(kernel_package) || true
	fi
	kernel=
	if [[ $found ]]; then
		read -r package version <<<"$found"
		kernel=$cache/${package}_${version//[^A-Za-z0-9.+~-]/_}
		if [[ ! -e $kernel/.complete ]] && ! download_kernel "$package" "$kernel"; then
			rm -rf "$work/download"
			# Old package lists name a version that is gone from the archive.
			if ((EUID == 0)) && apt-get -qq update >&2 && found=$(kernel_package); then
				read -r package version <<<"$found"
				kernel=$cache/${package}_${version//[^A-Za-z0-9.+~-]/_}
				download_kernel "$package" "$kernel" || kernel=
			else
				kernel=
			fi
		fi
	fi
	if [[ ! $kernel ]]; then
		kernel=$(newest_cached) ||
			cannot "no kernel: apt has no linux-image-amd64 to download and none is in $cache. Try: sudo apt-get update, then: apt-get download ${package:-linux-image-amd64}"
		say "apt gives no kernel now; using the one from before, ${kernel##*/}"
	fi
	release=$(cd "$kernel/lib/modules" && echo *)
}
