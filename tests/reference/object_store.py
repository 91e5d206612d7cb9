"""The twelve questions, asked by DuckDB of an archive that lies behind s3:// URLs, on a server of this machine (moto, which speaks Amazon's
S3 protocol).

    object_store.py ARCHIVE OUT    copy the archive there, ask, write answers as school.py does; prints how many objects were copied
"""
import glob
import json
import os
import sys

import boto3
import duckdb_extension_httpfs
from moto.server import ThreadedMotoServer

import school


def main():
    archive, out = sys.argv[1:]
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0)
    server.start()
    host, port = server.get_host_and_port()
    keys = dict(aws_access_key_id="own", aws_secret_access_key="own", region_name="us-east-1")
    store = boto3.client("s3", endpoint_url=f"http://{host}:{port}", **keys)
    store.create_bucket(Bucket="school")
    files = [f for f in glob.glob(f"{archive}/**", recursive=True) if os.path.isfile(f)]
    for file in files:
        store.upload_file(file, "school", "archive/" + os.path.relpath(file, archive))
    extension = glob.glob(os.path.dirname(duckdb_extension_httpfs.__file__) + "/extensions/*/httpfs.duckdb_extension")[0]
    db = school.duckdb_on("s3://school/archive", setup=[
        f"LOAD '{extension}'",
        f"CREATE SECRET (TYPE s3, KEY_ID 'own', SECRET 'own', REGION 'us-east-1', ENDPOINT '{host}:{port}', USE_SSL false, URL_STYLE 'path')"])
    answers = {name: [list(row) for row in db.execute(sql).fetchall()] for name, sql in school.questions(archive)}
    with open(out, "w") as file:
        json.dump(dict(answers=answers), file, default=float)
    print(f"{len(files)} objects")
    server.stop()


if __name__ == "__main__":
    main()
