"""The documentation: built by `make docs`, without network, warnings as errors."""

import hashlib
import shutil
import sys
from pathlib import Path

import libblade

HERE = Path(__file__).parent
ROOT = HERE.parent
BUILD = ROOT / "build" / "docs"
sys.path.insert(0, str(HERE / "_ext"))

project = "libblade"
author = "libblade contributors"
copyright = author  # noqa: A001 (Sphinx reads this name)
version = release = libblade.__version__

extensions = [
    "myst_nb",
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "sphinx.ext.napoleon",
    "sphinxcontrib.bibtex",
    "breathe",
    "mathml",
    "law",
    "validation_rows",
    "case_fields",
    "api_pages",
]
exclude_patterns = ["_build", "README.md"]
nitpicky = False  # types of NumPy and xarray are named, and their pages are elsewhere
# Every header opens the same namespaces.
suppress_warnings = ["duplicate_declaration.cpp", "mystnb.unknown_mime_type"]

html_theme = "furo"
html_title = f"libblade {release}"
html_static_path = ["_static"]
# Browsers set MathML in a font with a table for it; where the system has this one it goes along with the pages.
MATH_FONT = Path("/usr/share/fonts/opentype/stix-word/STIXMath-Regular.otf")
if MATH_FONT.exists():
    (BUILD / "static").mkdir(parents=True, exist_ok=True)
    shutil.copyfile(MATH_FONT, BUILD / "static" / "math.otf")
    html_static_path.append(str(BUILD / "static"))
html_css_files = ["own.css"]
html_math_renderer = "mathml"
html_show_sphinx = False
html_copy_source = html_show_sourcelink = False
html_extra_path = [str(path) for path in [BUILD / "validation.json"] if path.exists()]

myst_enable_extensions = ["amsmath", "colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 3

# Tutorials are the notebooks; they are run here and kept until they or libblade change.
nb_execution_mode = "cache"
installed = hashlib.sha256()
for part in sorted(p for p in Path(libblade.__file__).parent.rglob("*") if p.suffix in {".py", ".so", ".pyd", ".json"}):
    installed.update(part.read_bytes())
nb_execution_cache_path = str(BUILD / "notebooks" / installed.hexdigest()[:16])
nb_execution_timeout = 180
nb_execution_raise_on_error = True
nb_merge_streams = True
for notebook in (ROOT / "notebooks").glob("*.ipynb"):
    target = HERE / "tutorials" / notebook.name
    if not target.exists() or target.read_bytes() != notebook.read_bytes():
        target.parent.mkdir(exist_ok=True)
        shutil.copyfile(notebook, target)

autodoc_typehints = "signature"
autodoc_type_aliases = {name: name for name in ("npt.ArrayLike", "Floats", "Progress")}
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True, "undoc-members": True}
autosummary_generate = True
autosummary_ignore_module_all = False
napoleon_google_docstring = False

bibtex_bibfiles = ["references.bib"]
bibtex_default_style = "plain"
bibtex_reference_style = "author_year"

breathe_projects = {"libblade": str(BUILD / "doxygen" / "xml")}
breathe_default_project = "libblade"
breathe_default_members = ("members", "undoc-members")
breathe_show_include = False

validation_rows = str(BUILD / "validation.json")
case_fields = str(ROOT / "bindings" / "libblade" / "schema" / "fields.md")
