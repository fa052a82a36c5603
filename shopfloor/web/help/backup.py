"""The lines that copy a shop and bring it back; README gives the same, and a test runs those."""

COPY = """\
python3 -c "import os, sqlite3; os.makedirs('backup'); a = sqlite3.connect('file:instance/shopfloor.db?mode=rw', uri=True); b = sqlite3.connect('backup/shopfloor.db'); a.backup(b); print(b.execute('pragma integrity_check').fetchone()[0]); b.close(); a.close()"
python3 -c "import shutil; shutil.copytree('instance', 'backup', dirs_exist_ok=True, ignore=shutil.ignore_patterns('shopfloor.db', '*.db-wal', '*.db-shm', 'demo'))""""

BRING_BACK = """\
python3 -c "import glob, os; [os.remove(name) for name in glob.glob('instance/shopfloor.db-*')]"
python3 -c "import shutil; shutil.copytree('backup', 'instance', dirs_exist_ok=True)"
shopfloor upgrade"""
