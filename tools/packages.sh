# The Debian 12 packages that the project stands on; sourced by demo and check.

packages_to_build=(
    g++ cmake ninja-build python3
    libeigen3-dev libboost-dev libhdf5-dev libssl-dev libfmt-dev libtomlplusplus-dev libcli11-dev
    nlohmann-json3-dev tao-pegtl-dev
)
# The page of needleturn report is bundled by npm packages; a node of another origin brings its own npm.
command -v npm >/dev/null || packages_to_build+=(nodejs npm)
packages_for_the_rig=(emscripten)
packages_to_check=(
    dpkg-dev
    # SUNDIALS asks for OpenMP, which Clang has in a package of its own.
    ccache doctest-dev libsundials-dev libsuitesparse-dev clang-16 libclang-rt-16-dev libomp-16-dev
    clang-format clang-tidy
    python3-h5py python3-h5netcdf python3-netcdf4 python3-xarray hdf5-tools
    chromium gnuplot-nox poppler-utils
)

# Installs those of the named packages that are not there; needs root or sudo only then.
install_packages() {
    local missing=() package as_root=()
    for package in "$@"; do
        [[ $(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null) == installed ]] || missing+=("$package")
    done
    ((${#missing[@]})) || return 0
    if ((EUID != 0)); then
        command -v sudo >/dev/null || {
            echo "needs these packages and neither root nor sudo to install them: ${missing[*]}" >&2
            return 1
        }
        as_root=(sudo)
    fi
    echo "installing ${missing[*]}"
    "${as_root[@]}" apt-get update -qq
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get install -qq --no-install-recommends "${missing[@]}" </dev/null >/dev/null
}
