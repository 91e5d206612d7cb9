//! Tables as Apache Parquet, column by column: written in row groups, and written again without some of their rows.

use parquet::basic::{Compression, Type, ZstdLevel};
use parquet::column::reader::{ColumnReader, ColumnReaderImpl, get_typed_column_reader};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int32Type, Int64Type};
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::reader::{ChunkReader, FileReader, SerializedFileReader};
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::TypePtr;
use std::io::Write;
use std::sync::Arc;

/// Rows in one row group: what DuckDB works through at once, and some megabytes for Spark.
pub const GROUP: usize = 122_880;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// UTF-8.
    Text,
    /// 64 bits.
    Long,
    /// 32 bits.
    Int,
    /// True or false.
    Truth,
    /// Milliseconds since 1970, UTC.
    Moment,
}

/// A column: its name, what it holds, whether it can be empty, and what it means.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether it can be empty.
    pub maybe: bool,
    /// What it means.
    pub what: &'static str,
}

/// One value.
#[derive(Clone, Debug)]
pub enum Cell {
    /// Of [`Kind::Text`].
    Text(ByteArray),
    /// Of [`Kind::Long`] and [`Kind::Moment`].
    Long(i64),
    /// Of [`Kind::Int`].
    Int(i32),
    /// Of [`Kind::Truth`].
    Truth(bool),
    /// Nothing.
    Empty,
}

impl Cell {
    /// As people read it.
    pub fn shown(&self) -> String {
        match self {
            Cell::Text(text) => String::from_utf8_lossy(text.data()).into_owned(),
            Cell::Long(number) => number.to_string(),
            Cell::Int(number) => number.to_string(),
            Cell::Truth(truth) => truth.to_string(),
            Cell::Empty => "-".into(),
        }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(ByteArray::from(text.as_bytes().to_vec()))
    }
}

impl From<bool> for Cell {
    fn from(truth: bool) -> Cell {
        Cell::Truth(truth)
    }
}

impl From<i64> for Cell {
    fn from(number: i64) -> Cell {
        Cell::Long(number)
    }
}

impl From<usize> for Cell {
    fn from(number: usize) -> Cell {
        Cell::Int(i32::try_from(number).unwrap_or(i32::MAX))
    }
}

impl From<u32> for Cell {
    fn from(number: u32) -> Cell {
        Cell::from(number as usize)
    }
}

impl From<u64> for Cell {
    fn from(number: u64) -> Cell {
        Cell::from(number as usize)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Cell {
        value.map_or(Cell::Empty, Into::into)
    }
}

/// Values of one column, and by row whether there is one.
struct Values {
    there: Vec<i16>,
    of: Of,
}

enum Of {
    Text(Vec<ByteArray>),
    Long(Vec<i64>),
    Int(Vec<i32>),
    Real(Vec<f64>),
    Truth(Vec<bool>),
}

impl Of {
    fn len(&self) -> usize {
        match self {
            Of::Text(values) => values.len(),
            Of::Long(values) => values.len(),
            Of::Int(values) => values.len(),
            Of::Real(values) => values.len(),
            Of::Truth(values) => values.len(),
        }
    }
}

impl Values {
    fn of(kind: Kind) -> Values {
        let of = match kind {
            Kind::Text => Of::Text(vec![]),
            Kind::Long | Kind::Moment => Of::Long(vec![]),
            Kind::Int => Of::Int(vec![]),
            Kind::Truth => Of::Truth(vec![]),
        };
        Values { there: vec![], of }
    }

    /// A cell of another kind than its column's is none: a column that can't be empty then refuses to be written.
    fn push(&mut self, cell: Cell) {
        let before = self.of.len();
        match (&mut self.of, cell) {
            (Of::Text(values), Cell::Text(value)) => values.push(value),
            (Of::Long(values), Cell::Long(value)) => values.push(value),
            (Of::Int(values), Cell::Int(value)) => values.push(value),
            (Of::Truth(values), Cell::Truth(value)) => values.push(value),
            _ => {}
        }
        self.there.push(i16::from(self.of.len() > before));
    }

    /// Leave only the rows that are to stay.
    fn retain(&mut self, stays: &[bool]) {
        fn kept<T>(values: &mut Vec<T>, there: &[i16], stays: &[bool]) {
            let mut of = there.iter().zip(stays).filter(|(there, _)| **there > 0).map(|(_, stays)| *stays);
            values.retain(|_| of.next().unwrap_or(true));
        }
        match &mut self.of {
            Of::Text(values) => kept(values, &self.there, stays),
            Of::Long(values) => kept(values, &self.there, stays),
            Of::Int(values) => kept(values, &self.there, stays),
            Of::Real(values) => kept(values, &self.there, stays),
            Of::Truth(values) => kept(values, &self.there, stays),
        }
        let mut of = stays.iter();
        self.there.retain(|_| of.next().copied().unwrap_or(true));
    }

    fn read(reader: ColumnReader, rows: usize, physical: Type) -> Result<Values> {
        fn all<T: DataType>(reader: ColumnReader, rows: usize) -> Result<(Vec<i16>, Vec<T::T>)> {
            let mut reader: ColumnReaderImpl<T> = get_typed_column_reader(reader);
            let (mut there, mut values) = (vec![], vec![]);
            let mut read = 0;
            while read < rows {
                let (more, ..) = reader.read_records(rows - read, Some(&mut there), None, &mut values)?;
                if more == 0 {
                    return Err(ParquetError::General("a column ends before its rows do".into()));
                }
                read += more;
            }
            // A column that can't be empty has no levels.
            if there.is_empty() {
                there = vec![1; rows];
            }
            Ok((there, values))
        }
        fn as_values<T>((there, values): (Vec<i16>, Vec<T>), of: impl Fn(Vec<T>) -> Of) -> Values {
            Values { there, of: of(values) }
        }
        Ok(match physical {
            Type::BYTE_ARRAY => as_values(all::<ByteArrayType>(reader, rows)?, Of::Text),
            Type::INT64 => as_values(all::<Int64Type>(reader, rows)?, Of::Long),
            Type::INT32 => as_values(all::<Int32Type>(reader, rows)?, Of::Int),
            Type::DOUBLE => as_values(all::<DoubleType>(reader, rows)?, Of::Real),
            Type::BOOLEAN => as_values(all::<BoolType>(reader, rows)?, Of::Truth),
            other => return Err(ParquetError::General(format!("a column of {other}, which no version of this wrote"))),
        })
    }
}

/// Rows of a table on their way into a file.
pub struct Rows(Vec<Values>);

impl Rows {
    /// None yet.
    pub fn of(columns: &[Column]) -> Rows {
        Rows(columns.iter().map(|c| Values::of(c.kind)).collect())
    }

    /// One more; as many cells as the table has columns.
    pub fn push(&mut self, row: Vec<Cell>) {
        self.0.iter_mut().zip(row).for_each(|(values, cell)| values.push(cell));
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.0.first().map_or(0, |values| values.there.len())
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A table being written.
pub struct Writer<W: Write + Send>(SerializedFileWriter<W>);

impl<W: Write + Send> Writer<W> {
    /// Begin a table; `about` goes into the file as keys and values.
    pub fn begin(name: &str, columns: &[Column], about: &[(&str, &str)], to: W) -> Result<Writer<W>> {
        let line = |c: &Column| {
            let often = if c.maybe { "optional" } else { "required" };
            let (kind, meant) = match c.kind {
                Kind::Text => ("binary", " (UTF8)"),
                Kind::Long => ("int64", ""),
                Kind::Int => ("int32", ""),
                Kind::Truth => ("boolean", ""),
                Kind::Moment => ("int64", " (TIMESTAMP(MILLIS,true))"),
            };
            format!("{often} {kind} {}{meant};", c.name)
        };
        let schema = format!("message {name} {{ {} }}", columns.iter().map(line).collect::<Vec<_>>().join(" "));
        let about = about.iter().map(|(key, value)| KeyValue::new((*key).to_string(), (*value).to_string())).collect();
        Writer::with(Arc::new(parse_message_type(&schema)?), Some(about), to)
    }

    fn with(schema: TypePtr, about: Option<Vec<KeyValue>>, to: W) -> Result<Writer<W>> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::default()))
            .set_key_value_metadata(about)
            .build();
        Ok(Writer(SerializedFileWriter::new(to, schema, Arc::new(properties))?))
    }

    /// Write these rows as one group.
    pub fn group(&mut self, rows: Rows) -> Result<()> {
        let mut group = self.0.next_row_group()?;
        for Values { there, of } in &rows.0 {
            let Some(mut column) = group.next_column()? else { break };
            // A column that can't be empty takes no levels, and then must have a value for each row.
            let there = Some(there.as_slice());
            match of {
                Of::Text(values) => column.typed::<ByteArrayType>().write_batch(values, there, None)?,
                Of::Long(values) => column.typed::<Int64Type>().write_batch(values, there, None)?,
                Of::Int(values) => column.typed::<Int32Type>().write_batch(values, there, None)?,
                Of::Real(values) => column.typed::<DoubleType>().write_batch(values, there, None)?,
                Of::Truth(values) => column.typed::<BoolType>().write_batch(values, there, None)?,
            };
            column.close()?;
        }
        group.close()?;
        Ok(())
    }

    /// The end of the file.
    pub fn finish(self) -> Result<()> {
        self.0.close().map(|_| ())
    }
}

/// The texts of one column of a file, row by row.
pub fn texts(file: impl ChunkReader + 'static, column: &str) -> Result<Vec<ByteArray>> {
    let file = SerializedFileReader::new(file)?;
    let place = place(&file, column)?;
    let mut found = vec![];
    for group in 0..file.num_row_groups() {
        let group = file.get_row_group(group)?;
        let rows = group.metadata().num_rows() as usize;
        if let Of::Text(values) = Values::read(group.get_column_reader(place)?, rows, Type::BYTE_ARRAY)?.of {
            found.extend(values);
        }
    }
    Ok(found)
}

fn place(file: &SerializedFileReader<impl ChunkReader + 'static>, column: &str) -> Result<usize> {
    let columns = file.metadata().file_metadata().schema_descr().columns();
    let text = columns.iter().position(|c| c.name() == column && c.physical_type() == Type::BYTE_ARRAY);
    text.ok_or_else(|| ParquetError::General(format!("there is no column of texts called {column}")))
}

/// Write a file again without the rows whose `column` holds one of these texts. Whatever columns it has stay; gives how many rows stayed.
pub fn without<W: Write + Send>(
    file: impl ChunkReader + 'static,
    column: &str,
    gone: impl Fn(&[u8]) -> bool,
    to: W,
) -> Result<usize> {
    let file = SerializedFileReader::new(file)?;
    let place = place(&file, column)?;
    let about = file.metadata().file_metadata();
    let mut writer = Writer::with(about.schema_descr().root_schema_ptr(), about.key_value_metadata().cloned(), to)?;
    let mut stayed = 0;
    for group in 0..file.num_row_groups() {
        let group = file.get_row_group(group)?;
        let rows = group.metadata().num_rows() as usize;
        let types = group.metadata().columns().iter().map(|c| c.column_type());
        let read = types.enumerate().map(|(k, physical)| Values::read(group.get_column_reader(k)?, rows, physical));
        let mut columns = read.collect::<Result<Vec<Values>>>()?;
        let Of::Text(keys) = &columns[place].of else { continue };
        if keys.len() != rows {
            return Err(ParquetError::General(format!("{column} is empty in some rows")));
        }
        let stays: Vec<bool> = keys.iter().map(|key| !gone(key.data())).collect();
        columns.iter_mut().for_each(|values| values.retain(&stays));
        let rows = Rows(columns);
        stayed += rows.len();
        if !rows.is_empty() {
            writer.group(rows)?;
        }
    }
    writer.finish()?;
    Ok(stayed)
}
